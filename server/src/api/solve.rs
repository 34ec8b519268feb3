//! Single parts of the physics on the wire: questions and answers of `/solve/...`.

use serde::{Deserialize, Serialize};
use toile_model::conduction::{MOST_STITCHES, Seam, StitchKind};
use toile_model::electrostatics::{
    Aim, Choice, Conductor as MediumConductor, ConductorMatrix, CrossSection as MediumSection, FieldFault, Figure, Ground as MediumGround,
    Layer as MediumLayer, LineCapacitance, MOST_UNKNOWNS, Medium, Notes, Rows, RowsPlate, WIDEST_M, path_length,
};
use toile_model::geometry::{Point, path_meets_itself};
use toile_model::touch::{Signal, WayBack};
use toile_model::{Faults, Inspector, Measured, Shape, units};
use utoipa::ToSchema;

use super::method::{MethodChoice, aim};
use super::number::{
    CapacitancePf, CentreMm, HeightMm, LineWidthMm, MediumThicknessMm, Permittivity, PlainBodyToEarthPf, PlainBodyToSupplyPf,
    PlainColumnWidthMm, PlainCornerRadiusMm, PlainDensityMm, PlainDiameterMm, PlainFillHeightMm, PlainInnerDiameterMm,
    PlainInterlaceFraction, PlainLengthMm, PlainOuterDiameterMm, PlainRowSpacingMm, PlainRunLengthMm, PlainStitchLengthMm,
    PlainSupplyToEarthPf, PlainThreadDiameterMm, PlainWidthMm, PointMm, RelativeTolerance, RotationDeg, StitchedThicknessMm,
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
    /// Error that is asked for, 0.001 where nothing is given; the answer says when it was not reached.
    pub relative_tolerance: Option<RelativeTolerance>,
}

impl CapacitanceQuestion {
    /// Layers and conductors, SI.
    ///
    /// # Errors
    /// Shapes that cannot be, and conductors with nothing to keep them apart.
    pub fn to_model(&self) -> Result<(Layers, Vec<MediumConductor>), Faults> {
        let mut inspect = Inspector::new();
        inspect_planes(self, &mut inspect);
        for (k, conductor) in self.conductors.iter().enumerate() {
            conductor.shape.check(&mut inspect, || format!("/conductors/{k}/shape"));
        }
        inspect.finish()?;
        Ok((Layers::new(self.ground, &self.base, &self.overlay), self.conductors.iter().map(Conductor::to_model).collect()))
    }

    /// Method and tolerance.
    pub fn aim(&self) -> Aim {
        aim(self.method, self.relative_tolerance)
    }

    /// What keeps the field from being solved, in the places of the question.
    pub fn faults(&self, fault: FieldFault) -> Faults {
        let mut inspect = Inspector::new();
        let called = |k: usize| match &self.conductors[k].name {
            Some(name) => format!("conductor {} ({name})", k + 1),
            None => format!("conductor {}", k + 1),
        };
        match fault {
            FieldFault::Overlap { first, second } => inspect.refuse(
                format!("/conductors/{second}"),
                called(second),
                format!("It overlaps or touches {} on the same plane.", called(first)),
                "conductors on one plane that do not touch",
            ),
            FieldFault::TooWide { conductor, extent_m } => inspect.refuse(
                format!("/conductors/{conductor}/shape"),
                format!("{} across", units::WIDTH.print(extent_m)),
                format!("The field around {} is too wide to be solved.", called(conductor)),
                format!("at most {} across, or the method closed_form", units::WIDTH.print(WIDEST_M)),
            ),
            FieldFault::TooMuchWork { unknowns } => inspect.refuse(
                "/conductors".into(),
                format!("{unknowns} unknowns"),
                "Solving the field between these conductors takes more than one question may.",
                format!(
                    "conductors that take {MOST_UNKNOWNS} unknowns at the most (fewer, simpler or farther apart), or the method closed_form"
                ),
            ),
            FieldFault::Contact => inspect.refuse(
                if self.base.is_empty() { "/base".into() } else { "/overlay".into() },
                "no layer",
                "Nothing lies between conductors that have to be apart.",
                "at least one layer between ground, the stitched conductors and those on top",
            ),
        }
        inspect.finish().expect_err("a fault was just noted")
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

impl Conductor {
    /// With its whole geometry, SI.
    fn to_model(&self) -> MediumConductor {
        MediumConductor {
            figure: self.shape.figure(),
            rows: self.rows.map(|r| Rows { thread_diameter_m: r.thread_diameter_mm.0, row_spacing_m: r.row_spacing_mm.0 }),
            centre_m: self.centre_mm.map_or([0.0, 0.0], |c| c.map(|x| x.0)),
            rotation_rad: self.rotation_deg.map_or(0.0, |r| r.0),
            on_top: self.plane == Plane::Top,
        }
    }
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
        #[schema(min_items = 3, max_items = 5000)]
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
    /// The outline, m.
    fn figure(&self) -> Figure {
        match self {
            Self::Round { diameter_mm } => Figure::Round { diameter_m: diameter_mm.0 },
            Self::Rectangle { width_mm, length_mm, corner_radius_mm } => {
                Figure::Rectangle { width_m: width_mm.0, length_m: length_mm.0, corner_radius_m: corner_radius_mm.map_or(0.0, |n| n.0) }
            }
            Self::Ring { inner_diameter_mm, outer_diameter_mm } => {
                Figure::Ring { inner_diameter_m: inner_diameter_mm.0, outer_diameter_m: outer_diameter_mm.0 }
            }
            Self::Polygon { points_mm, holes_mm } => {
                Figure::Polygon { points_m: corners(points_mm), holes_m: holes_mm.iter().flatten().map(|h| corners(h)).collect() }
            }
            Self::Line { points_mm, width_mm } => Figure::Line { points_m: steps(points_mm), width_m: width_mm.0 },
        }
    }

    /// Checks what the ranges of the schema cannot tell: outlines that meet themselves, holes, paths that double back.
    fn check(&self, inspect: &mut Inspector, pointer: impl Fn() -> String) {
        let exact = |x: f64| Measured::exact(x);
        let shape = match self.figure() {
            Figure::Round { diameter_m } => Shape::Round { diameter_m: exact(diameter_m) },
            Figure::Rectangle { width_m, length_m, corner_radius_m } => {
                Shape::Rectangle { width_m: exact(width_m), length_m: exact(length_m), corner_radius_m: exact(corner_radius_m) }
            }
            Figure::Ring { inner_diameter_m, outer_diameter_m } => {
                Shape::Ring { inner_diameter_m: exact(inner_diameter_m), outer_diameter_m: exact(outer_diameter_m) }
            }
            Figure::Polygon { points_m, holes_m } => Shape::Polygon { points_m, holes_m },
            Figure::Line { points_m, .. } => return check_path(&points_m, inspect, pointer),
        };
        shape.check(inspect, pointer);
    }
}

fn check_path(path: &[Point], inspect: &mut Inspector, pointer: impl Fn() -> String) {
    let at = || format!("{}/points_mm", pointer());
    let allowed = "a path that does not meet itself";
    if path_length(path) == 0.0 {
        inspect.refuse(at(), "one place", "The path has no length.", "two or more points that differ");
    } else if let Some((i, j)) = path_meets_itself(path) {
        let given = format!("steps from ({}) and from ({})", in_mm(path[i]), in_mm(path[j]));
        inspect.refuse(at(), given, "Two steps of the path cross, touch or double back.", allowed);
    }
}

fn in_mm(point: Point) -> String {
    point.map(|x| units::short(units::COORDINATE.from_si(x))).join(", ")
}

fn corners(list: &[PointMm]) -> Vec<Point> {
    list.iter().map(|p| p.0).collect()
}

/// The points of a path; one that is given again right away is no step.
fn steps(list: &[PointMm]) -> Vec<Point> {
    let mut path = corners(list);
    path.dedup();
    path
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
        let notes = texts(matrix.notes, question.aim(), question.relative_tolerance, matrix.relative_error);
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

/// What to know about a value: the cautions of its method, and whether the tolerance was missed. The closed form is
/// taken whatever its bound, so only a tolerance that came with it counts.
fn texts(notes: Notes, aim: Aim, asked: Option<RelativeTolerance>, reached: f64) -> Vec<String> {
    let mut texts: Vec<String> = notes.iter().map(|note| note.text().to_owned()).collect();
    if reached > aim.relative_tolerance && (asked.is_some() || aim.choice != Choice::ClosedForm) {
        texts.push(format!("the tolerance asked for, {}, is not reached: the bound is {}", aim.relative_tolerance, units::short(reached)));
    }
    texts
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
    /// How to compute it; `best` where nothing is given.
    pub method: Option<MethodChoice>,
    /// Error that is asked for, 0.001 where nothing is given; the answer says when it was not reached.
    pub relative_tolerance: Option<RelativeTolerance>,
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

    /// Method and tolerance.
    pub fn aim(&self) -> Aim {
        aim(self.method, self.relative_tolerance)
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

impl LineAnswer {
    /// Puts a capacitance on the wire.
    pub fn new(question: &LineQuestion, line: &LineCapacitance) -> Self {
        Self {
            capacitance_pf_per_m: pf(line.per_m_f),
            relative_error: line.accuracy.relative_error,
            method: line.method.name(),
            valid: line.accuracy.valid,
            notes: texts(line.accuracy.notes, question.aim(), question.relative_tolerance, line.accuracy.relative_error),
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
    /// How to compute it; `best` where nothing is given.
    pub method: Option<MethodChoice>,
    /// Error that is asked for, 0.001 where nothing is given; the answer says when it was not reached.
    pub relative_tolerance: Option<RelativeTolerance>,
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

    /// Method and tolerance.
    pub fn aim(self) -> Aim {
        aim(self.method, self.relative_tolerance)
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

impl RowsAnswer {
    /// Puts a plate on the wire.
    pub fn new(question: &RowsQuestion, plate: &RowsPlate) -> Self {
        Self {
            capacitance_pf_per_m2: pf(plate.capacitance_per_m2_f),
            offset_mm: plate.offset_m * 1e3,
            relative_error: plate.accuracy.relative_error,
            method: plate.method.name(),
            valid: plate.accuracy.valid,
            notes: texts(plate.accuracy.notes, question.aim(), question.relative_tolerance, plate.accuracy.relative_error),
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
