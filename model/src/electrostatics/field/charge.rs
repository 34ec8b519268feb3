//! Where the charge sits on one conductor, for a picture.
//!
//! * gives: quadrangles that cover the conductor, each with its density in C/m² at 1 V
//! * needs: one conductor, alone; layers as everywhere
//! * assumes: everything else far away, at ground
//! * source: the solvers of the round pad and the rectangle; for other outlines the cells of [`super::mesh`]
//! * accuracy: of a picture, some per cent; at an edge, where the density has no bound, that of a place next to it
//! * errors: as [`super::conductor_matrix`]
//! * example: on a free disc of 10 mm radius the middle carries half of the mean density

use super::super::{Conductor, Figure, Medium};
use super::layers::{Layers, Planes};
use super::mesh::Mesh;
use super::outline::{loops_of, width_m};
use super::rectangle::rectangle_pad;
use super::{FieldFault, cells, memory, round_pad};
use crate::geometry::Point;
use nalgebra::DMatrix;
use std::f64::consts::{FRAC_PI_2, PI, TAU};

/// A piece of a conductor and the charge on it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChargeCell {
    /// Its corners on the cloth, in order, m.
    pub corners_m: [Point; 4],
    /// Charge per area at 1 V, C/m².
    pub density: f64,
}

/// Far finer than a picture shows.
const TOLERANCE: f64 = 1e-3;

/// Rings and sectors of a disc, rows and columns of a rectangle, cells across other outlines.
const RINGS: usize = 14;
const SECTORS: usize = 48;
const COLUMNS: usize = 28;
const ACROSS: f64 = 28.0;

/// The charge on a conductor with nothing near it.
///
/// # Errors
/// [`FieldFault`].
pub fn charge_cells(medium: &Medium<'_>, conductor: &Conductor) -> Result<Vec<ChargeCell>, FieldFault> {
    let layers = Layers::new(medium, conductor.rows);
    let cell = |corners: [Point; 4], density: f64| ChargeCell { corners_m: corners.map(|p| conductor.on_cloth(p)), density };
    match conductor.figure {
        Figure::Round { diameter_m } => {
            let radius = 0.5 * diameter_m;
            let charge = round_pad(&layers, conductor.on_top, radius, TOLERANCE)?.charge;
            // Rings as narrow at the rim as the charge asks for.
            let edge = |ring: f64| radius * (FRAC_PI_2 * ring / RINGS as f64).sin();
            let at = |r: f64, sector: usize| {
                let angle = TAU * sector as f64 / SECTORS as f64;
                [r * angle.cos(), r * angle.sin()]
            };
            let rings = (0..RINGS).flat_map(|ring| (0..SECTORS).map(move |sector| (ring, sector)));
            Ok(rings
                .map(|(ring, sector)| {
                    let (near, far) = (edge(ring as f64), edge(ring as f64 + 1.0));
                    let corners = [at(near, sector), at(far, sector), at(far, sector + 1), at(near, sector + 1)];
                    cell(corners, charge.density(edge(ring as f64 + 0.5)))
                })
                .collect())
        }
        Figure::Rectangle { width_m, length_m, corner_radius_m: 0.0 } => {
            let charge = rectangle_pad(&layers, conductor.on_top, width_m, length_m, TOLERANCE)?.charge;
            let edge = |column: f64, side: f64| -0.5 * side * (PI * column / COLUMNS as f64).cos();
            let places = (0..COLUMNS).flat_map(|i| (0..COLUMNS).map(move |j| (i as f64, j as f64)));
            Ok(places
                .map(|(i, j)| {
                    let [left, right] = [i, i + 1.0].map(|c| edge(c, width_m));
                    let [low, high] = [j, j + 1.0].map(|c| edge(c, length_m));
                    let density = charge.density(edge(i + 0.5, width_m), edge(j + 0.5, length_m));
                    cell([[left, low], [right, low], [right, high], [left, high]], density)
                })
                .collect())
        }
        _ => any_outline(&layers, conductor),
    }
}

fn any_outline(layers: &Layers, conductor: &Conductor) -> Result<Vec<ChargeCell>, FieldFault> {
    let planes = if conductor.on_top { Planes::Top } else { Planes::Stitched };
    let kernel = memory::kernel(layers, planes);
    let mesh = Mesh::new(&loops_of(conductor), width_m(&conductor.figure) / ACROSS, &|_, _| f64::INFINITY);
    let unit = DMatrix::from_element(mesh.cells.len(), 1, 1.0);
    let charges = cells::charges(&mesh, &kernel, layers.nearest_m(planes), unit).ok_or(FieldFault::Contact)?;
    let corners = |middle: Point, [x, y]: Point| {
        let (x, y) = (0.5 * x, 0.5 * y);
        [[middle[0] - x, middle[1] - y], [middle[0] + x, middle[1] - y], [middle[0] + x, middle[1] + y], [middle[0] - x, middle[1] + y]]
    };
    Ok(mesh
        .cells
        .iter()
        .zip(charges.iter())
        .map(|(cell, charge)| ChargeCell { corners_m: corners(cell.middle, cell.sides), density: charge / cell.area_m2 })
        .collect())
}
