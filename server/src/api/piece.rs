//! A piece on the wire, and its conversion to the model's.

mod electrode;
mod laid_wire;
mod light_row;
mod warmth;

use serde::Deserialize;
use toile_model::{self as model, GroundKind, MOST_LAYERS, MOST_PADS, Measured, TouchCase};
use utoipa::ToSchema;

use self::electrode::Electrode;
use self::laid_wire::LaidWire;
use self::light_row::LightRow;
use super::method::{MethodChoice, aim};
use super::number::{
    BodyToEarthPf, BodyToSupplyPf, CentreMm, ChargeTimeUs, ClearanceMm, ColumnWidthMm, ContactResistanceOhm, CornerRadiusMm, DensityMm,
    DiameterMm, FingertipDiameterMm, GrowthPerWashPercent, GuardGapMm, GuardWidthMm, HoleDiameterMm, InnerDiameterMm, InterlaceFraction,
    LayerThicknessMm, LengthMm, LinearDensityTex, LinearResistanceOhmPerM, MaxRunOhm, MaxStandingPf, NeededSignalPf, NeedleDiameterMm,
    OffCentreMm, OpeningDiameterMm, OuterDiameterMm, PitchMm, PointMm, RelativePermittivity, RelativeTolerance, RotationDeg, RowContactOhm,
    RowSpacingMm, RunLengthMm, SeriesResistanceOhm, SettledPercent, SewnThicknessMm, SheetResistanceOhmSq, StitchContactOhm,
    StitchLengthMm, StretchFactor, StretchPercent, SupplyToEarthPf, TemperatureC, TemperatureCoefficientPerK, ThreadDiameterMm,
    WaterFraction, WidthMm,
};
use super::production::ProductionOrder;
use super::read::Readable;

/// What the customer wants stitched: any features, at least one.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Piece {
    /// What the customer calls it.
    #[schema(max_length = 200)]
    name: Option<String>,
    /// Pieces asked for; 1 where nothing is given.
    #[schema(minimum = 1, maximum = 10_000_000)]
    quantity: Option<u32>,
    /// Layers and ground; needed where there are pads.
    stack: Option<Stack>,
    /// Touch pads with their runs.
    #[schema(max_items = 256)]
    pads: Option<Vec<Pad>>,
    /// Stitched areas on skin with their runs.
    #[schema(max_items = 64)]
    electrodes: Option<Vec<Electrode>>,
    /// Lights in parallel along a feed and a return, at most 2000 lights in all.
    #[schema(max_items = 32)]
    light_rows: Option<Vec<LightRow>>,
    /// Wires, tubes and rovings under a zigzag.
    #[schema(max_items = 64)]
    laid_wires: Option<Vec<LaidWire>>,
    /// Touch-sensing input; needed where there are pads.
    controller: Option<Controller>,
    /// Finger and way back; a battery device in a room where nothing is given.
    touch: Option<Touch>,
    /// Temperature in use; 23 where nothing is given.
    temperature_c: Option<TemperatureC>,
    /// Wash cycles behind it when it is to work; 0 where nothing is given.
    #[schema(minimum = 0, maximum = 1000)]
    after_washes: Option<u32>,
    /// Stretch in use; 0 where nothing is given.
    stretch_percent: Option<StretchPercent>,
    /// What the machine can do.
    machine: Option<Machine>,
    /// How capacitances are computed; `best` where nothing is given.
    method: Option<MethodChoice>,
    /// Error that is asked of them, 0.001 where nothing is given.
    relative_tolerance: Option<RelativeTolerance>,
    /// How it is to be made: heads, quantities, currency, rates.
    production: Option<ProductionOrder>,
}

/// Layers, listed upwards, and what lies under them.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Stack {
    /// What lies under the lowest base layer.
    ground: Ground,
    /// Layers from ground to the stitched plane, upwards.
    #[schema(min_items = 1, max_items = 16)]
    base: Vec<Layer>,
    /// Layers from the stitched plane to the finger, upwards.
    #[schema(max_items = 16)]
    #[serde(default)]
    overlay: Vec<Layer>,
    /// Thickness that the needle passes; that of the topmost base layer where nothing is given.
    sewn_thickness_mm: Option<SewnThicknessMm>,
    /// Diameter of a round opening in the ground under the middle of each pad; a closed ground where nothing is given.
    opening_diameter_mm: Option<OpeningDiameterMm>,
}

/// What lies under the base.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Ground {
    /// Conductive cloth tied to circuit ground.
    Sheet,
    /// A metal frame tied to circuit ground.
    Metal,
    /// The body of the wearer, who also touches.
    Body,
    /// Nothing near.
    None,
}

/// A layer: a fabric of the library, numbers, or a fabric with some numbers put right.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Layer {
    /// Id of a fabric of the library. Without it both numbers are needed.
    #[schema(max_length = 200)]
    library: Option<String>,
    /// Thickness.
    thickness_mm: Option<LayerThicknessMm>,
    /// Permittivity relative to vacuum.
    relative_permittivity: Option<RelativePermittivity>,
    /// Part of its volume that is water, for a layer that got wet; as dry as the library has it where nothing is given.
    water_fraction: Option<WaterFraction>,
}

/// A pad with its run.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Pad {
    /// What it is called; `pad 1` and so on where nothing is given.
    #[schema(max_length = 200)]
    name: Option<String>,
    /// Outline.
    shape: Shape,
    /// Middle on the cloth, x and y. Clearance is checked between pads that have one.
    #[schema(min_items = 2, max_items = 2)]
    centre_mm: Option<[CentreMm; 2]>,
    /// Turn about the middle.
    rotation_deg: Option<RotationDeg>,
    /// Thread of fill and run.
    thread: Thread,
    /// Rows of thread that fill the pad; left out for solid conductive cloth.
    fill: Option<Fill>,
    /// Sheet resistance of that cloth; a wide range is assumed where nothing is given.
    sheet_resistance_ohm_sq: Option<SheetResistanceOhmSq>,
    /// Conductor from the pad to the controller.
    run: Run,
    /// Conductor laid around the pad to keep its field to itself; none where nothing is given.
    guard: Option<Guard>,
}

/// A band of even width around a pad, at an even distance from it.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Guard {
    /// Free space between pad and guard.
    gap_mm: GuardGapMm,
    /// Width of the band.
    width_mm: GuardWidthMm,
    /// What it is tied to.
    held: Held,
}

/// What a guard is tied to.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Held {
    /// Circuit ground.
    Ground,
    /// A driver that follows the pad's own voltage.
    Driven,
}

/// Outline of a pad.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(tag = "kind", rename_all = "snake_case", deny_unknown_fields)]
pub enum Shape {
    /// A disc.
    Round {
        /// Diameter.
        diameter_mm: DiameterMm,
    },
    /// A rectangle, width along x and length along y.
    Rectangle {
        /// Side along x.
        width_mm: WidthMm,
        /// Side along y.
        length_mm: LengthMm,
        /// Radius of the corners, at most half of the shorter side; 0 where nothing is given.
        corner_radius_mm: Option<CornerRadiusMm>,
    },
    /// A disc with a round hole.
    Ring {
        /// Diameter of the hole.
        inner_diameter_mm: InnerDiameterMm,
        /// Diameter of the rim.
        outer_diameter_mm: OuterDiameterMm,
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
}

/// A thread: an entry of the library, numbers, or an entry with some numbers put right.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Thread {
    /// Id of a thread of the library. Without it resistance and diameter are needed.
    #[schema(max_length = 200)]
    library: Option<String>,
    /// Resistance per metre at 20 degrees Celsius.
    linear_resistance_ohm_per_m: Option<LinearResistanceOhmPerM>,
    /// Diameter as it lies in the seam.
    diameter_mm: Option<ThreadDiameterMm>,
    /// Mass per length.
    linear_density_tex: Option<LinearDensityTex>,
    /// Relative growth of resistance per kelvin.
    temperature_coefficient_per_k: Option<TemperatureCoefficientPerK>,
    /// Growth of resistance in one wash cycle; matters after washes.
    growth_per_wash_percent: Option<GrowthPerWashPercent>,
    /// Growth of resistance as a multiple of the stretch; matters under stretch.
    stretch_factor: Option<StretchFactor>,
}

/// Rows that fill a pad.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Fill {
    /// Distance between rows.
    row_spacing_mm: RowSpacingMm,
    /// Stitch length within a row.
    stitch_length_mm: StitchLengthMm,
    /// Contact between facing penetrations of neighbouring rows; rows count as apart where nothing is given.
    row_contact_ohm: Option<RowContactOhm>,
}

/// A stitched conductor.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Run {
    /// From pad to terminal.
    length_mm: RunLengthMm,
    /// Times it is sewn; 1 where nothing is given.
    #[schema(minimum = 1, maximum = 50)]
    passes: Option<u32>,
    /// How it is sewn; running stitches of 2.5 mm where nothing is given.
    stitch: Option<Stitch>,
    /// What is wound on the bobbin; plain thread where nothing is given.
    bobbin: Option<Bobbin>,
    /// Depth of the interlacing point from the face, as a fraction of the sewn thickness.
    interlace_fraction: Option<InterlaceFraction>,
    /// Contact between top and bobbin thread at a stitch, where both conduct.
    stitch_contact_ohm: Option<StitchContactOhm>,
    /// Whether the passes touch at every penetration, which decides what a broken stitch does; true where nothing is given.
    passes_joined: Option<bool>,
    /// Where the run meets board, snap or crimp.
    terminal: Option<Terminal>,
}

/// How a run is sewn.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(tag = "kind", rename_all = "snake_case", deny_unknown_fields)]
pub enum Stitch {
    /// Forward along the line.
    Running {
        /// Stitch length.
        stitch_length_mm: StitchLengthMm,
    },
    /// Forward, back and forward over each step.
    Back {
        /// Stitch length.
        stitch_length_mm: StitchLengthMm,
    },
    /// A zigzag column.
    Satin {
        /// Width of the column.
        column_width_mm: ColumnWidthMm,
        /// Distance of penetrations on one side.
        density_mm: DensityMm,
    },
}

/// Thread on the bobbin.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Bobbin {
    /// Plain thread that does not conduct.
    Plain,
    /// The same conductive thread as on top.
    SameThread,
}

/// Where a run meets a board, snap or crimp.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Terminal {
    /// What it is.
    kind: Option<TerminalKind>,
    /// Contact resistance.
    contact_resistance_ohm: Option<ContactResistanceOhm>,
    /// Between the middles of neighbouring contacts; checked against needle, thread and clearance.
    pitch_mm: Option<PitchMm>,
    /// Hole of a board for the needle; checked against needle and thread.
    hole_diameter_mm: Option<HoleDiameterMm>,
}

/// What a run is joined to.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum TerminalKind {
    /// A circuit board that the run is sewn down to with its top thread.
    Board,
    /// A press stud, which pinches both threads.
    Snap,
    /// A crimp, which pinches both threads.
    Crimp,
}

/// A touch-sensing input: an entry of the library, numbers, or an entry with some numbers put right.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Controller {
    /// Id of a controller of the library. Without it all numbers are needed.
    #[schema(max_length = 200)]
    library: Option<String>,
    /// Time given to a pad to charge.
    charge_time_us: Option<ChargeTimeUs>,
    /// Resistance between driver and terminal.
    series_resistance_ohm: Option<SeriesResistanceOhm>,
    /// Largest standing capacitance it can handle.
    max_standing_pf: Option<MaxStandingPf>,
    /// Smallest change that it tells from noise.
    needed_signal_pf: Option<NeededSignalPf>,
    /// Largest run resistance allowed.
    max_run_ohm: Option<MaxRunOhm>,
    /// Share of the final charge that must be reached.
    settled_percent: Option<SettledPercent>,
}

/// Finger and way back to circuit ground. What is left out is assumed by the case, and shown.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Touch {
    /// How the circuit stands to earth; battery where nothing is given.
    case: Option<Case>,
    /// Flat disc for the fingertip.
    fingertip_diameter_mm: Option<FingertipDiameterMm>,
    /// Capacitance from the person to earth.
    body_to_earth_pf: Option<BodyToEarthPf>,
    /// Capacitance from the supply to earth; not for an earthed supply.
    supply_to_earth_pf: Option<SupplyToEarthPf>,
    /// Capacitance from the person to the supply, beside the finger's own field.
    body_to_supply_pf: Option<BodyToSupplyPf>,
    /// How far beside the middle of the pad the finger comes down; 0 where nothing is given.
    off_centre_mm: Option<OffCentreMm>,
}

/// How the circuit stands to earth.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Case {
    /// Supply tied to earth.
    Earthed,
    /// Battery or isolated supply, standing free.
    Battery,
    /// Battery worn on the body that touches.
    Worn,
}

/// What the machine can do.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Machine {
    /// Needles; 12 where nothing is given.
    #[schema(minimum = 1, maximum = 24)]
    needles: Option<u32>,
    /// Threads that only decorate; 0 where nothing is given.
    #[schema(minimum = 0, maximum = 100)]
    decorative_threads: Option<u32>,
    /// Smallest distance kept between conductors; 1 where nothing is given.
    clearance_mm: Option<ClearanceMm>,
    /// Blade of the needle that carries conductive thread; 0.9 where nothing is given.
    needle_diameter_mm: Option<NeedleDiameterMm>,
}

// The limits in the schema above are literals, because the schema macro takes no other; this holds them to the model.
const _: () = assert!(MOST_LAYERS == 16 && MOST_PADS == 256);
const _: () = assert!(model::geometry::MOST_CORNERS == 5000 && model::MOST_CHARACTERS == 200);

impl From<Piece> for model::Piece {
    fn from(wire: Piece) -> Self {
        let machine = wire.machine.map_or_else(model::Machine::default, Into::into);
        Self {
            name: wire.name,
            quantity: wire.quantity.unwrap_or(1),
            stack: wire.stack.map(Into::into).unwrap_or_default(),
            pads: wire.pads.into_iter().flatten().map(Into::into).collect(),
            electrodes: wire.electrodes.into_iter().flatten().map(Into::into).collect(),
            light_rows: wire.light_rows.into_iter().flatten().map(Into::into).collect(),
            laid_wires: wire.laid_wires.into_iter().flatten().map(Into::into).collect(),
            controller: wire.controller.map(Into::into).unwrap_or_default(),
            touch: wire.touch.map_or_else(battery, Into::into),
            temperature_k: wire.temperature_c.map(|n| n.0),
            after_washes: wire.after_washes.unwrap_or(0),
            stretch: wire.stretch_percent.map(|n| n.0),
            machine,
            aim: aim(wire.method, wire.relative_tolerance),
            production: wire.production.map_or_else(Default::default, Into::into),
        }
    }
}

impl From<Stack> for model::Stack {
    fn from(wire: Stack) -> Self {
        let ground = match wire.ground {
            Ground::Sheet => GroundKind::Sheet,
            Ground::Metal => GroundKind::Metal,
            Ground::Body => GroundKind::Body,
            Ground::None => GroundKind::None,
        };
        let layers = |list: Vec<Layer>| list.into_iter().map(Into::into).collect();
        Self {
            ground,
            base: layers(wire.base),
            overlay: layers(wire.overlay),
            sewn_thickness_m: wire.sewn_thickness_mm.map(|n| n.0),
            opening_diameter_m: wire.opening_diameter_mm.map(|n| n.0),
        }
    }
}

impl From<Layer> for model::LayerChoice {
    fn from(wire: Layer) -> Self {
        Self {
            library: wire.library,
            thickness_m: wire.thickness_mm.map(|n| n.0),
            relative_permittivity: wire.relative_permittivity.map(|n| n.0),
            water_fraction: wire.water_fraction.map(|n| n.0),
        }
    }
}

impl From<Pad> for model::Pad {
    fn from(wire: Pad) -> Self {
        Self {
            name: wire.name,
            shape: wire.shape.into(),
            centre_m: wire.centre_mm.map(|c| c.map(|x| x.0)),
            rotation_rad: wire.rotation_deg.map_or(0.0, |r| r.0),
            thread: wire.thread.into(),
            fill: wire.fill.map(Into::into),
            sheet_resistance_ohm_sq: wire.sheet_resistance_ohm_sq.map(|n| n.0),
            run: wire.run.into(),
            guard: wire.guard.map(Into::into),
        }
    }
}

impl From<Fill> for model::Fill {
    fn from(wire: Fill) -> Self {
        Self {
            row_spacing_m: wire.row_spacing_mm.0,
            stitch_length_m: wire.stitch_length_mm.0,
            row_contact_ohm: wire.row_contact_ohm.map(|n| n.0),
        }
    }
}

impl From<Guard> for model::Guard {
    fn from(wire: Guard) -> Self {
        let held = match wire.held {
            Held::Ground => model::Held::Ground,
            Held::Driven => model::Held::Driven,
        };
        Self { gap_m: wire.gap_mm.0, width_m: wire.width_mm.0, held }
    }
}

impl From<Shape> for model::Shape {
    fn from(wire: Shape) -> Self {
        let corners = |list: Vec<PointMm>| list.into_iter().map(|p| p.0).collect();
        match wire {
            Shape::Round { diameter_mm } => Self::Round { diameter_m: diameter_mm.0 },
            Shape::Rectangle { width_mm, length_mm, corner_radius_mm } => Self::Rectangle {
                width_m: width_mm.0,
                length_m: length_mm.0,
                corner_radius_m: corner_radius_mm.map_or(Measured::exact(0.0), |n| n.0),
            },
            Shape::Ring { inner_diameter_mm, outer_diameter_mm } => {
                Self::Ring { inner_diameter_m: inner_diameter_mm.0, outer_diameter_m: outer_diameter_mm.0 }
            }
            Shape::Polygon { points_mm, holes_mm } => {
                Self::Polygon { points_m: corners(points_mm), holes_m: holes_mm.unwrap_or_default().into_iter().map(corners).collect() }
            }
        }
    }
}

impl From<Thread> for model::ThreadChoice {
    fn from(wire: Thread) -> Self {
        Self {
            library: wire.library,
            linear_resistance_ohm_per_m: wire.linear_resistance_ohm_per_m.map(|n| n.0),
            diameter_m: wire.diameter_mm.map(|n| n.0),
            linear_density_kg_per_m: wire.linear_density_tex.map(|n| n.0),
            temperature_coefficient_per_k: wire.temperature_coefficient_per_k.map(|n| n.0),
            growth_per_wash: wire.growth_per_wash_percent.map(|n| n.0),
            stretch_factor: wire.stretch_factor.map(|n| n.0),
        }
    }
}

impl From<Run> for model::Run {
    fn from(wire: Run) -> Self {
        Self {
            length_m: wire.length_mm.0,
            passes: wire.passes.unwrap_or(1),
            stitch: wire.stitch.map(Into::into),
            bobbin: match wire.bobbin {
                Some(Bobbin::SameThread) => model::Bobbin::SameThread,
                Some(Bobbin::Plain) | None => model::Bobbin::Plain,
            },
            interlace_fraction: wire.interlace_fraction.map(|n| n.0),
            stitch_contact_ohm: wire.stitch_contact_ohm.map(|n| n.0),
            passes_joined: wire.passes_joined.unwrap_or(true),
            contact_resistance_ohm: wire.terminal.and_then(|t| t.contact_resistance_ohm).map(|n| n.0),
            terminal: wire.terminal.map_or_else(model::Terminal::default, Into::into),
        }
    }
}

impl From<Terminal> for model::Terminal {
    fn from(wire: Terminal) -> Self {
        Self {
            kind: wire.kind.map(|kind| match kind {
                TerminalKind::Board => model::TerminalKind::Board,
                TerminalKind::Snap => model::TerminalKind::Snap,
                TerminalKind::Crimp => model::TerminalKind::Crimp,
            }),
            pitch_m: wire.pitch_mm.map(|n| n.0),
            hole_diameter_m: wire.hole_diameter_mm.map(|n| n.0),
        }
    }
}

impl From<Stitch> for model::Stitch {
    fn from(wire: Stitch) -> Self {
        match wire {
            Stitch::Running { stitch_length_mm } => Self::Running { stitch_length_m: stitch_length_mm.0 },
            Stitch::Back { stitch_length_mm } => Self::Back { stitch_length_m: stitch_length_mm.0 },
            Stitch::Satin { column_width_mm, density_mm } => Self::Satin { column_width_m: column_width_mm.0, density_m: density_mm.0 },
        }
    }
}

impl From<Controller> for model::ControllerChoice {
    fn from(wire: Controller) -> Self {
        Self {
            library: wire.library,
            charge_time_s: wire.charge_time_us.map(|n| n.0),
            series_resistance_ohm: wire.series_resistance_ohm.map(|n| n.0),
            max_standing_f: wire.max_standing_pf.map(|n| n.0),
            needed_signal_f: wire.needed_signal_pf.map(|n| n.0),
            max_run_ohm: wire.max_run_ohm.map(|n| n.0),
            settled_fraction: wire.settled_percent.map(|n| n.0),
        }
    }
}

fn battery() -> model::Touch {
    model::Touch::assumed(TouchCase::Battery)
}

impl From<Touch> for model::Touch {
    fn from(wire: Touch) -> Self {
        let case = match wire.case {
            Some(Case::Earthed) => TouchCase::Earthed,
            Some(Case::Battery) | None => TouchCase::Battery,
            Some(Case::Worn) => TouchCase::Worn,
        };
        Self {
            case,
            fingertip_diameter_m: wire.fingertip_diameter_mm.map(|n| n.0),
            body_to_earth_f: wire.body_to_earth_pf.map(|n| n.0),
            supply_to_earth_f: wire.supply_to_earth_pf.map(|n| n.0),
            body_to_supply_f: wire.body_to_supply_pf.map(|n| n.0),
            off_centre_m: wire.off_centre_mm.map(|n| n.0),
        }
    }
}

impl From<Machine> for model::Machine {
    fn from(wire: Machine) -> Self {
        let usual = Self::default();
        Self {
            needles: wire.needles.unwrap_or(usual.needles),
            decorative_threads: wire.decorative_threads.unwrap_or(usual.decorative_threads),
            clearance_m: wire.clearance_mm.map_or(usual.clearance_m, |n| n.0),
            needle_diameter_m: wire.needle_diameter_mm.map_or(usual.needle_diameter_m, |n| n.0),
        }
    }
}

impl Readable for Piece {
    const SCHEMA: &'static str = "Piece";
}
