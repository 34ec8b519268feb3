//! Single parts of the physics on the wire: questions and answers of `/solve/...`.

use serde::{Deserialize, Serialize};
use toile_model::conduction::{MOST_STITCHES, Seam, StitchKind};
use toile_model::electrostatics::{
    ConductorMatrix, CrossSection as MediumSection, Ground as MediumGround, Layer as MediumLayer, LineCapacitance, Medium, Notes, Outline,
    Placed, Rows, RowsPlate,
};
use toile_model::geometry::{self, Point};
use toile_model::touch::{Signal, WayBack};
use toile_model::{Faults, Inspector, Measured, Shape, units};
use utoipa::ToSchema;

use super::number::{
    CapacitancePf, CentreMm, HeightMm, LineWidthMm, MediumThicknessMm, Permittivity, PlainBodyToEarthPf, PlainBodyToSupplyPf,
    PlainColumnWidthMm, PlainCornerRadiusMm, PlainDensityMm, PlainDiameterMm, PlainFillHeightMm, PlainInnerDiameterMm,
    PlainInterlaceFraction, PlainLengthMm, PlainOuterDiameterMm, PlainRowSpacingMm, PlainRunLengthMm, PlainStitchLengthMm,
    PlainSupplyToEarthPf, PlainThreadDiameterMm, PlainWidthMm, PointMm, RotationDeg, StitchedThicknessMm,
};
use super::read::Readable;

/// Any conductors in a layered stack.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CapacitanceQuestion {
    /// What lies under the lowest base layer.
    pub ground: PlaneOrNone,
    /// Layers from ground to the stitched plane, upwards.
    #[schema(max_items = 16)]
    #[serde(default)]
    pub base: Vec<PlainLayer>,
    /// Layers from the stitched plane up.
    #[schema(max_items = 16)]
    #[serde(default)]
    pub overlay: Vec<PlainLayer>,
    /// The conductors.
    #[schema(min_items = 1, max_items = 128)]
    pub conductors: Vec<Conductor>,
    /// How to compute it; `best` where nothing is given.
    pub method: Option<MethodChoice>,
    /// Error that is asked for; the answer says when it was not reached.
    #[schema(minimum = 0.000000001, maximum = 1.0)]
    pub relative_tolerance: Option<f64>,
}

impl CapacitanceQuestion {
    /// Layers and conductors, SI.
    ///
    /// # Errors
    /// Shapes that cannot be, and conductors with nothing to keep them apart.
    pub fn to_model(&self) -> Result<(Layers, Vec<Placed>), Faults> {
        let mut inspect = Inspector::new();
        inspect_planes(self, &mut inspect);
        for (k, conductor) in self.conductors.iter().enumerate() {
            if let Ok(shape) = conductor.shape.to_model() {
                shape.check(&mut inspect, || format!("/conductors/{k}/shape"));
            }
        }
        inspect.finish()?;
        Ok((Layers::new(self.ground, &self.base, &self.overlay), self.conductors.iter().map(place).collect()))
    }
}

fn inspect_planes(question: &CapacitanceQuestion, inspect: &mut Inspector) {
    let on = |plane| question.conductors.iter().any(|c| c.plane == plane);
    if question.base.is_empty() && matches!(question.ground, PlaneOrNone::Sheet) && (on(Plane::Stitched) || question.overlay.is_empty()) {
        inspect.refuse(
            "/base".into(),
            "no layer",
            "The conductors would lie on the ground sheet.",
            "at least one layer between ground and conductors",
        );
    }
    if question.overlay.is_empty() && on(Plane::Stitched) && on(Plane::Top) {
        inspect.refuse(
            "/overlay".into(),
            "no layer",
            "The conductors on top would lie on the stitched ones.",
            "at least one layer between the two planes",
        );
    }
}

fn place(conductor: &Conductor) -> Placed {
    let centre = conductor.centre_mm.map_or([0.0, 0.0], |c| c.map(|x| x.0));
    let rotation = conductor.rotation_deg.map_or(0.0, |r| r.0);
    let rows = conductor.rows.map(|r| Rows { thread_diameter_m: r.thread_diameter_mm.0, row_spacing_m: r.row_spacing_mm.0 });
    let (outline, middle, line) = match conductor.shape.to_model() {
        Ok(shape) => (shape.outline().expect("faulty polygons were refused"), middle(&shape), None),
        Err((path, width_m)) => {
            let length_m = path_length(&path).max(width_m);
            let outline = Outline::Rectangle { width_m, length_m, corner_radius_m: 0.0 };
            (outline, middle_of_path(&path), Some((length_m, width_m)))
        }
    };
    let [at] = geometry::placed(&[middle], rotation, centre)[..] else { unreachable!("one point in, one point out") };
    Placed { outline, rows, x_m: at[0], y_m: at[1], on_top: conductor.plane == Plane::Top, line }
}

fn middle(shape: &Shape) -> Point {
    match shape {
        Shape::Polygon { points_m, .. } => geometry::centroid(points_m),
        _ => [0.0, 0.0],
    }
}

fn path_length(path: &[Point]) -> f64 {
    path.windows(2).map(|w| (w[1][0] - w[0][0]).hypot(w[1][1] - w[0][1])).sum()
}

/// The point half way along a path.
fn middle_of_path(path: &[Point]) -> Point {
    let mut left = path_length(path) / 2.0;
    for step in path.windows(2) {
        let length = (step[1][0] - step[0][0]).hypot(step[1][1] - step[0][1]);
        if length >= left && length > 0.0 {
            let t = left / length;
            return [step[0][0] + t * (step[1][0] - step[0][0]), step[0][1] + t * (step[1][1] - step[0][1])];
        }
        left -= length;
    }
    path[0]
}

/// What lies under the lowest base layer.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum PlaneOrNone {
    /// An ideal plane.
    Sheet,
    /// Air.
    None,
}

impl From<PlaneOrNone> for MediumGround {
    fn from(ground: PlaneOrNone) -> Self {
        match ground {
            PlaneOrNone::Sheet => Self::Plane,
            PlaneOrNone::None => Self::None,
        }
    }
}

/// A layer by numbers.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PlainLayer {
    /// Thickness.
    pub thickness_mm: MediumThicknessMm,
    /// Permittivity relative to vacuum.
    pub relative_permittivity: Permittivity,
}

/// The layers of a question, SI.
#[derive(Debug)]
pub struct Layers {
    ground: MediumGround,
    base: Vec<MediumLayer>,
    overlay: Vec<MediumLayer>,
}

impl Layers {
    fn new(ground: PlaneOrNone, base: &[PlainLayer], overlay: &[PlainLayer]) -> Self {
        let layers = |list: &[PlainLayer]| {
            list.iter().map(|l| MediumLayer { thickness_m: l.thickness_mm.0, relative_permittivity: l.relative_permittivity.0 }).collect()
        };
        Self { ground: ground.into(), base: layers(base), overlay: layers(overlay) }
    }

    /// The layers as the model looks at them.
    pub fn medium(&self) -> Medium<'_> {
        Medium { ground: self.ground, base: &self.base, overlay: &self.overlay }
    }
}

/// How a capacitance is computed.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum MethodChoice {
    /// The cheapest method whose error bound meets the tolerance; closed forms are what there is in this version.
    Best,
    /// The formula a practitioner checks by hand.
    ClosedForm,
}

/// One conductor.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Conductor {
    /// Name used in the answer.
    #[schema(max_length = 200)]
    pub name: Option<String>,
    /// Height it lies at.
    pub plane: Plane,
    /// Outline.
    pub shape: ConductorShape,
    /// Middle, x and y; the origin where nothing is given.
    #[schema(min_items = 2, max_items = 2)]
    pub centre_mm: Option<[CentreMm; 2]>,
    /// Turn about the middle.
    pub rotation_deg: Option<RotationDeg>,
    /// Rows of thread; left out for a solid conductor.
    pub rows: Option<RowsOfThread>,
}

/// Height of a conductor.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Plane {
    /// Between base and overlay.
    Stitched,
    /// On the overlay, air above.
    Top,
}

/// Outline of a conductor.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(tag = "kind", rename_all = "snake_case", deny_unknown_fields)]
pub enum ConductorShape {
    /// A disc.
    Round {
        /// Diameter.
        diameter_mm: PlainDiameterMm,
    },
    /// A rectangle, width along x and length along y.
    Rectangle {
        /// Side along x.
        width_mm: PlainWidthMm,
        /// Side along y.
        length_mm: PlainLengthMm,
        /// Radius of the corners; 0 where nothing is given.
        corner_radius_mm: Option<PlainCornerRadiusMm>,
    },
    /// A disc with a round hole.
    Ring {
        /// Diameter of the hole.
        inner_diameter_mm: PlainInnerDiameterMm,
        /// Diameter of the rim.
        outer_diameter_mm: PlainOuterDiameterMm,
    },
    /// Any outline that does not meet itself.
    Polygon {
        /// Corners in order, x and y.
        #[schema(min_items = 3, max_items = 512)]
        points_mm: Vec<PointMm>,
        /// Holes, corners in order.
        #[schema(max_items = 64)]
        holes_mm: Option<Vec<Vec<PointMm>>>,
    },
    /// A run of even width along a path.
    Line {
        /// Points of the path, x and y.
        #[schema(min_items = 2, max_items = 512)]
        points_mm: Vec<PointMm>,
        /// Width of the run.
        width_mm: LineWidthMm,
    },
}

impl ConductorShape {
    /// The shape as the model's, or a path with its width.
    pub fn to_model(&self) -> Result<toile_model::Shape, (Vec<[f64; 2]>, f64)> {
        let corners = |list: &[PointMm]| -> Vec<[f64; 2]> { list.iter().map(|p| p.0).collect() };
        Ok(match self {
            Self::Round { diameter_mm } => toile_model::Shape::Round { diameter_m: Measured::exact(diameter_mm.0) },
            Self::Rectangle { width_mm, length_mm, corner_radius_mm } => toile_model::Shape::Rectangle {
                width_m: Measured::exact(width_mm.0),
                length_m: Measured::exact(length_mm.0),
                corner_radius_m: Measured::exact(corner_radius_mm.map_or(0.0, |n| n.0)),
            },
            Self::Ring { inner_diameter_mm, outer_diameter_mm } => toile_model::Shape::Ring {
                inner_diameter_m: Measured::exact(inner_diameter_mm.0),
                outer_diameter_m: Measured::exact(outer_diameter_mm.0),
            },
            Self::Polygon { points_mm, holes_mm } => toile_model::Shape::Polygon {
                points_m: corners(points_mm),
                holes_m: holes_mm.iter().flatten().map(|h| corners(h)).collect(),
            },
            Self::Line { points_mm, width_mm } => return Err((corners(points_mm), width_mm.0)),
        })
    }
}

/// Rows of thread that make up a stitched conductor.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct RowsOfThread {
    /// Diameter of the thread.
    pub thread_diameter_mm: PlainThreadDiameterMm,
    /// Distance between rows.
    pub row_spacing_mm: PlainRowSpacingMm,
}

/// Capacitances between all conductors.
#[derive(Debug, Serialize, ToSchema)]
pub struct CapacitanceAnswer {
    /// Maxwell matrix in the order given: charges over voltages; off-diagonals are negative.
    pub maxwell_pf: Vec<Vec<f64>>,
    /// Names in the order given.
    pub names: Vec<String>,
    /// Bound on the relative error of every entry of the matrix.
    pub relative_error: f64,
    /// Bound for the diagonal and for a pad and the finger over it alone: neighbours are known less well.
    pub diagonal_relative_error: f64,
    /// Method that made it.
    pub method: &'static str,
    /// Whether the case lies inside the method's measured range.
    pub valid: bool,
    /// What to know about it.
    pub notes: Vec<String>,
}

impl CapacitanceAnswer {
    /// Puts a matrix on the wire.
    pub fn new(question: &CapacitanceQuestion, matrix: &ConductorMatrix) -> Self {
        let mut notes = texts(matrix.notes);
        if let Some(asked) = question.relative_tolerance.filter(|asked| *asked < matrix.relative_error) {
            notes.push(format!("the tolerance asked for, {asked}, is not reached: the bound is {}", units::short(matrix.relative_error)));
        }
        let name = |(k, c): (usize, &Conductor)| c.name.clone().unwrap_or_else(|| format!("conductor {}", k + 1));
        Self {
            maxwell_pf: matrix.maxwell_f.chunks(matrix.count).map(|row| row.iter().map(|c| pf(*c)).collect()).collect(),
            names: question.conductors.iter().enumerate().map(name).collect(),
            relative_error: matrix.relative_error,
            diagonal_relative_error: matrix.diagonal_error,
            method: matrix.method.name(),
            valid: matrix.valid,
            notes,
        }
    }
}

fn texts(notes: Notes) -> Vec<String> {
    notes.iter().map(|note| note.text().to_owned()).collect()
}

/// Capacitance per length of an endless strip or thread.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct LineQuestion {
    /// What lies under the lowest base layer.
    pub ground: PlaneOrNone,
    /// Layers from ground to the stitched plane, upwards.
    #[schema(max_items = 16)]
    #[serde(default)]
    pub base: Vec<PlainLayer>,
    /// Layers from the stitched plane up.
    #[schema(max_items = 16)]
    #[serde(default)]
    pub overlay: Vec<PlainLayer>,
    /// Section of the conductor.
    pub cross_section: CrossSection,
}

impl LineQuestion {
    /// Layers and section, SI.
    ///
    /// # Errors
    /// A ground sheet without a layer over it.
    pub fn to_model(&self) -> Result<(Layers, MediumSection), Faults> {
        let mut inspect = Inspector::new();
        if self.base.is_empty() && matches!(self.ground, PlaneOrNone::Sheet) {
            inspect.refuse(
                "/base".into(),
                "no layer",
                "The run would lie on the ground sheet.",
                "at least one layer between ground and run",
            );
        }
        inspect.finish()?;
        let section = match self.cross_section {
            CrossSection::Strip { width_mm } => MediumSection::Strip { width_m: width_mm.0 },
            CrossSection::Thread { diameter_mm } => MediumSection::Thread { diameter_m: diameter_mm.0 },
        };
        Ok((Layers::new(self.ground, &self.base, &self.overlay), section))
    }
}

/// Section of an endless conductor.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(tag = "kind", rename_all = "snake_case", deny_unknown_fields)]
pub enum CrossSection {
    /// A flat strip on the stitched plane.
    Strip {
        /// Width.
        width_mm: LineWidthMm,
    },
    /// A round thread, its axis on the stitched plane.
    Thread {
        /// Diameter.
        diameter_mm: ThreadMm,
    },
}

/// Diameter of a thread or wire, where thick ones are of interest too.
pub type ThreadMm = LineWidthMm;

/// Capacitance per length.
#[derive(Debug, Serialize, ToSchema)]
pub struct LineAnswer {
    /// Capacitance per metre.
    pub capacitance_pf_per_m: f64,
    /// Bound on its relative error.
    pub relative_error: f64,
    /// Method that made it.
    pub method: &'static str,
    /// Whether the case lies inside the method's measured range.
    pub valid: bool,
    /// What to know about it.
    pub notes: Vec<String>,
}

impl From<LineCapacitance> for LineAnswer {
    fn from(line: LineCapacitance) -> Self {
        Self {
            capacitance_pf_per_m: pf(line.per_m_f),
            relative_error: line.accuracy.relative_error,
            method: line.method.name(),
            valid: line.accuracy.valid,
            notes: texts(line.accuracy.notes),
        }
    }
}

/// An endless field of parallel round threads over ground, in air.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct RowsQuestion {
    /// Diameter of the thread.
    pub thread_diameter_mm: PlainThreadDiameterMm,
    /// Distance between rows.
    pub row_spacing_mm: PlainRowSpacingMm,
    /// Height of the axes over ground.
    pub height_mm: HeightMm,
}

impl RowsQuestion {
    /// Thread diameter, row spacing and height, m.
    ///
    /// # Errors
    /// Threads that overlap or reach the ground.
    pub fn to_model(self) -> Result<[f64; 3], Faults> {
        let (diameter, spacing, height) = (self.thread_diameter_mm.0, self.row_spacing_mm.0, self.height_mm.0);
        let mut inspect = Inspector::new();
        if spacing < diameter {
            let allowed = format!("at least the thread diameter, {}", units::ROW_SPACING.print(diameter));
            inspect.refuse("/row_spacing_mm".into(), units::ROW_SPACING.print(spacing), "The threads overlap.", allowed);
        }
        if height <= diameter / 2.0 {
            let allowed = format!("more than half of the thread diameter, {}", units::HEIGHT.print(diameter / 2.0));
            inspect.refuse("/height_mm".into(), units::HEIGHT.print(height), "The threads reach the ground.", allowed);
        }
        inspect.finish()?;
        Ok([diameter, spacing, height])
    }
}

/// Capacitance per area of a field of threads.
#[derive(Debug, Serialize, ToSchema)]
pub struct RowsAnswer {
    /// Capacitance per square metre.
    pub capacitance_pf_per_m2: f64,
    /// How much further from ground than the axes an even plate of the same capacitance lies; negative: nearer.
    pub offset_mm: f64,
    /// Bound on the relative error of the capacitance.
    pub relative_error: f64,
    /// Method that made it.
    pub method: &'static str,
    /// Whether the case lies inside the method's measured range.
    pub valid: bool,
    /// What to know about it.
    pub notes: Vec<String>,
}

impl From<RowsPlate> for RowsAnswer {
    fn from(plate: RowsPlate) -> Self {
        Self {
            capacitance_pf_per_m2: pf(plate.capacitance_per_m2_f),
            offset_mm: plate.offset_m * 1e3,
            relative_error: plate.accuracy.relative_error,
            method: plate.method.name(),
            valid: plate.accuracy.valid,
            notes: texts(plate.accuracy.notes),
        }
    }
}

/// Stitches and thread of one feature.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(tag = "kind", rename_all = "snake_case", deny_unknown_fields)]
pub enum StitchingQuestion {
    /// Forward along a line.
    Running {
        /// Length of the line.
        length_mm: PlainRunLengthMm,
        /// Nominal stitch length.
        stitch_length_mm: PlainStitchLengthMm,
        /// Thickness sewn.
        thickness_mm: StitchedThicknessMm,
        /// Depth of the interlacing point from the face.
        interlace_fraction: PlainInterlaceFraction,
        /// Times the line is sewn; 1 where nothing is given.
        #[schema(minimum = 1, maximum = 50)]
        passes: Option<u32>,
    },
    /// Forward, back and forward over each step.
    Back {
        /// Length of the line.
        length_mm: PlainRunLengthMm,
        /// Nominal stitch length.
        stitch_length_mm: PlainStitchLengthMm,
        /// Thickness sewn.
        thickness_mm: StitchedThicknessMm,
        /// Depth of the interlacing point from the face.
        interlace_fraction: PlainInterlaceFraction,
        /// Times the line is sewn; 1 where nothing is given.
        #[schema(minimum = 1, maximum = 50)]
        passes: Option<u32>,
    },
    /// A zigzag column.
    Satin {
        /// Length of the column.
        length_mm: PlainRunLengthMm,
        /// Width of the column.
        column_width_mm: PlainColumnWidthMm,
        /// Distance of penetrations on one side.
        density_mm: PlainDensityMm,
        /// Thickness sewn.
        thickness_mm: StitchedThicknessMm,
        /// Depth of the interlacing point from the face.
        interlace_fraction: PlainInterlaceFraction,
        /// Times the column is sewn; 1 where nothing is given.
        #[schema(minimum = 1, maximum = 50)]
        passes: Option<u32>,
        /// Not used by a satin column; taken so that one row of a table fits every kind.
        stitch_length_mm: Option<PlainStitchLengthMm>,
    },
    /// Rows to and fro.
    Fill {
        /// Length of a row.
        length_mm: PlainRunLengthMm,
        /// Height across the rows.
        height_mm: PlainFillHeightMm,
        /// Nominal distance between rows.
        row_spacing_mm: PlainRowSpacingMm,
        /// Nominal stitch length within a row.
        stitch_length_mm: PlainStitchLengthMm,
        /// Thickness sewn.
        thickness_mm: StitchedThicknessMm,
        /// Depth of the interlacing point from the face.
        interlace_fraction: PlainInterlaceFraction,
    },
}

impl StitchingQuestion {
    /// The feature, the thickness sewn and the depth of the interlacing point.
    pub fn to_model(self) -> (StitchKind, f64, f64) {
        match self {
            Self::Running { length_mm, stitch_length_mm, thickness_mm, interlace_fraction, passes } => (
                StitchKind::Running { length_m: length_mm.0, stitch_length_m: stitch_length_mm.0, passes: passes.unwrap_or(1) },
                thickness_mm.0,
                interlace_fraction.0,
            ),
            Self::Back { length_mm, stitch_length_mm, thickness_mm, interlace_fraction, passes } => (
                StitchKind::Back { length_m: length_mm.0, stitch_length_m: stitch_length_mm.0, passes: passes.unwrap_or(1) },
                thickness_mm.0,
                interlace_fraction.0,
            ),
            Self::Satin { length_mm, column_width_mm, density_mm, thickness_mm, interlace_fraction, passes, .. } => (
                StitchKind::Satin {
                    length_m: length_mm.0,
                    column_width_m: column_width_mm.0,
                    density_m: density_mm.0,
                    passes: passes.unwrap_or(1),
                },
                thickness_mm.0,
                interlace_fraction.0,
            ),
            Self::Fill { length_mm, height_mm, row_spacing_mm, stitch_length_mm, thickness_mm, interlace_fraction } => (
                StitchKind::Fill {
                    length_m: length_mm.0,
                    height_m: height_mm.0,
                    row_spacing_m: row_spacing_mm.0,
                    stitch_length_m: stitch_length_mm.0,
                },
                thickness_mm.0,
                interlace_fraction.0,
            ),
        }
    }
}

/// Stitches and thread of a feature.
#[derive(Debug, Serialize, ToSchema)]
pub struct StitchingAnswer {
    /// Stitches in all.
    pub stitches: f64,
    /// Length of one stitch as it comes out.
    pub stitch_length_actual_mm: f64,
    /// Top thread.
    pub top_thread_mm: f64,
    /// Bobbin thread.
    pub bobbin_thread_mm: f64,
}

impl StitchingAnswer {
    /// Puts a seam on the wire.
    ///
    /// # Errors
    /// More stitches than any machine sews: a slip of the unit.
    pub fn new(seam: Seam) -> Result<Self, Faults> {
        let mut inspect = Inspector::new();
        if seam.stitches > MOST_STITCHES {
            let given = format!("{} stitches", seam.stitches);
            inspect.refuse("/length_mm".into(), given, "The feature takes too many stitches.", format!("at most {MOST_STITCHES} stitches"));
        }
        inspect.finish()?;
        Ok(Self {
            stitches: seam.stitches,
            stitch_length_actual_mm: seam.stitch_length_actual_m * 1e3,
            top_thread_mm: seam.top_thread_m * 1e3,
            bobbin_thread_mm: seam.bobbin_thread_m * 1e3,
        })
    }
}

/// What a touch adds, from given capacitances.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct TouchQuestion {
    /// Capacitances between pad, finger and ground.
    pub maxwell_pf: TouchCoefficients,
    /// Person to earth.
    pub body_to_earth_pf: PlainBodyToEarthPf,
    /// Supply to earth; null for an earthed supply.
    pub supply_to_earth_pf: Option<PlainSupplyToEarthPf>,
    /// Person to supply.
    pub body_to_supply_pf: PlainBodyToSupplyPf,
}

/// Capacitances between pad, finger and ground, each as a positive number (the negative of the matrix element).
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct TouchCoefficients {
    /// Pad to finger.
    pub pad_finger: CapacitancePf,
    /// Pad to ground with the finger in place.
    pub pad_ground_touched: CapacitancePf,
    /// Pad to ground without the finger.
    pub pad_ground_untouched: CapacitancePf,
    /// Finger to ground.
    pub finger_ground: CapacitancePf,
}

impl TouchQuestion {
    /// The four capacitances, in the order of the fields, F, and the way back to circuit ground.
    pub fn to_model(self) -> ([f64; 4], WayBack) {
        let c = self.maxwell_pf;
        let way = WayBack {
            body_to_earth_f: self.body_to_earth_pf.0,
            supply_to_earth_f: self.supply_to_earth_pf.map(|n| n.0),
            body_to_supply_f: self.body_to_supply_pf.0,
        };
        ([c.pad_finger.0, c.pad_ground_touched.0, c.pad_ground_untouched.0, c.finger_ground.0], way)
    }
}

/// What a touch adds.
#[derive(Debug, Serialize, ToSchema)]
pub struct TouchAnswer {
    /// Change of the pad's capacitance.
    pub signal_pf: f64,
    /// Way back from the finger to circuit ground.
    pub return_pf: f64,
}

impl From<Signal> for TouchAnswer {
    fn from(signal: Signal) -> Self {
        Self { signal_pf: pf(signal.signal_f), return_pf: pf(signal.return_f) }
    }
}

/// Picofarad from farad, for answers.
fn pf(f: f64) -> f64 {
    units::CAPACITANCE.from_si(f)
}

impl Readable for CapacitanceQuestion {
    const SCHEMA: &'static str = "CapacitanceQuestion";
}

impl Readable for LineQuestion {
    const SCHEMA: &'static str = "LineQuestion";
}

impl Readable for RowsQuestion {
    const SCHEMA: &'static str = "RowsQuestion";
}

impl Readable for StitchingQuestion {
    const SCHEMA: &'static str = "StitchingQuestion";
}

impl Readable for TouchQuestion {
    const SCHEMA: &'static str = "TouchQuestion";
}
