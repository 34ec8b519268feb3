//! Numbers on the wire: one type per quantity, so that unit, range and schema come from the model's one table.
//!
//! A plain type takes a JSON number. A type with a spread also takes `{"value": 3.0, "plus_minus": 0.2}` (normal,
//! 95 %) and `{"low": 2.8, "high": 3.2}` (uniform). Both hold SI. Ranges are not checked here but by the model, which
//! finds every fault at once.

use serde::de::{Deserialize, DeserializeSeed, Deserializer, Error, MapAccess, Visitor};
use serde::{Serialize, Serializer};
use toile_model::uncertainty::Spread;
use toile_model::units::{Quantity, significant};
use toile_model::{Measured, units};
use utoipa::openapi::schema::{AdditionalProperties, ObjectBuilder, OneOfBuilder, Schema, SchemaType, Type};
use utoipa::openapi::{KnownFormat, RefOr, SchemaFormat};

/// The schema of a plain number.
pub(super) fn plain_schema(quantity: &Quantity) -> ObjectBuilder {
    ObjectBuilder::new()
        .schema_type(SchemaType::Type(Type::Number))
        .format(Some(SchemaFormat::KnownFormat(KnownFormat::Double)))
        .minimum(Some(quantity.low))
        .maximum(Some(quantity.high))
        .description(Some(describe(quantity)))
}

fn describe(quantity: &Quantity) -> String {
    let unit = if quantity.unit.is_empty() { "a pure number".to_owned() } else { format!("in {}", quantity.unit) };
    let mut name = quantity.name.to_owned();
    name[..1].make_ascii_uppercase();
    format!("{name}, {unit}.")
}

/// The schema of a number with or without a spread.
pub(super) fn spread_schema(quantity: &Quantity) -> RefOr<Schema> {
    let plain = || plain_schema(quantity);
    let width = ObjectBuilder::new()
        .schema_type(SchemaType::Type(Type::Number))
        .format(Some(SchemaFormat::KnownFormat(KnownFormat::Double)))
        .minimum(Some(0.0))
        .maximum(Some(quantity.high - quantity.low));
    let closed = || ObjectBuilder::new().additional_properties(Some(AdditionalProperties::<Schema>::FreeForm(false)));
    OneOfBuilder::new()
        .item(plain())
        .item(
            closed()
                .property("value", plain())
                .required("value")
                .property("plus_minus", width)
                .required("plus_minus")
                .description(Some("Normal spread: the value lies within plus or minus this with a chance of 95 %.")),
        )
        .item(
            closed()
                .property("low", plain())
                .required("low")
                .property("high", plain())
                .required("high")
                .description(Some("Anywhere between the limits with equal chance.")),
        )
        .description(Some(format!("{} A plain number, or one with a spread.", describe(quantity))))
        .into()
}

fn read_spread<'de, D: Deserializer<'de>>(deserializer: D, quantity: &'static Quantity) -> Result<Measured, D::Error> {
    struct SpreadVisitor(&'static Quantity);
    impl<'de> Visitor<'de> for SpreadVisitor {
        type Value = Measured;

        fn expecting(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
            f.write_str("a number, or an object with value and plus_minus, or with low and high")
        }

        fn visit_f64<E: Error>(self, v: f64) -> Result<Measured, E> {
            Ok(Measured::exact(v).rescaled(self.0.offset, self.0.per_si))
        }

        fn visit_u64<E: Error>(self, v: u64) -> Result<Measured, E> {
            self.visit_f64(v as f64)
        }

        fn visit_i64<E: Error>(self, v: i64) -> Result<Measured, E> {
            self.visit_f64(v as f64)
        }

        fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Measured, A::Error> {
            let (mut first, mut second) = (None::<(String, f64)>, None::<(String, f64)>);
            while let Some(entry) = map.next_entry::<String, f64>()? {
                if first.is_none() {
                    first = Some(entry);
                } else if second.is_none() {
                    second = Some(entry);
                } else {
                    return Err(A::Error::custom("a spread has two fields"));
                }
            }
            let pair = first.zip(second).map(|(a, b)| if a.0 > b.0 { (a, b) } else { (b, a) });
            // Sorted backwards by name: value before plus_minus, low before high.
            let edge = match pair.as_ref().map(|((a, x), (b, y))| (a.as_str(), *x, b.as_str(), *y)) {
                Some(("value", value, "plus_minus", width)) => Measured::normal(value, width),
                Some(("low", low, "high", high)) => Measured::uniform(low, high),
                _ => return Err(A::Error::custom("a spread has value and plus_minus, or low and high")),
            };
            Ok(edge.rescaled(self.0.offset, self.0.per_si))
        }
    }
    deserializer.deserialize_any(SpreadVisitor(quantity))
}

/// Reads a number of `quantity` with or without a spread, SI; nothing for null.
pub(super) const fn spread_seed(quantity: &'static Quantity) -> SpreadSeed {
    SpreadSeed(quantity)
}

/// See [`spread_seed`].
pub(super) struct SpreadSeed(&'static Quantity);

impl<'de> DeserializeSeed<'de> for SpreadSeed {
    type Value = Option<Measured>;

    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<Self::Value, D::Error> {
        deserializer.deserialize_option(self)
    }
}

impl<'de> Visitor<'de> for SpreadSeed {
    type Value = Option<Measured>;

    fn expecting(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("a number with or without a spread, or null")
    }

    fn visit_none<E: Error>(self) -> Result<Self::Value, E> {
        Ok(None)
    }

    fn visit_some<D: Deserializer<'de>>(self, deserializer: D) -> Result<Self::Value, D::Error> {
        read_spread(deserializer, self.0).map(Some)
    }
}

/// A measured value as the wire writes it: a plain number, or an object with its spread.
pub fn write_spread<S: Serializer>(measured: &Measured, quantity: &Quantity, serializer: S) -> Result<S::Ok, S::Error> {
    #[derive(Serialize)]
    struct Normal {
        value: f64,
        plus_minus: f64,
    }
    #[derive(Serialize)]
    struct Uniform {
        low: f64,
        high: f64,
    }
    let edge = |si: f64| significant(quantity.from_si(si), 9);
    match measured.spread {
        Spread::Exact => edge(measured.value).serialize(serializer),
        Spread::Normal => {
            let plus_minus = significant(quantity.width_from_si(measured.standard_uncertainty * units::COVERAGE_95), 9);
            Normal { value: edge(measured.value), plus_minus }.serialize(serializer)
        }
        Spread::Uniform => {
            let (low, high) = measured.named_limits();
            Uniform { low: edge(low), high: edge(high) }.serialize(serializer)
        }
    }
}

/// A point on the cloth, x and y in mm; m inside.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PointMm(pub [f64; 2]);

impl<'de> Deserialize<'de> for PointMm {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        <[f64; 2]>::deserialize(deserializer).map(|edge| Self(edge.map(|x| units::COORDINATE.to_si(x))))
    }
}

impl utoipa::PartialSchema for PointMm {
    fn schema() -> RefOr<Schema> {
        utoipa::openapi::schema::ArrayBuilder::new()
            .items(plain_schema(&units::COORDINATE))
            .min_items(Some(2))
            .max_items(Some(2))
            .description(Some("A point on the cloth: x and y, in mm."))
            .into()
    }
}

impl utoipa::ToSchema for PointMm {}

macro_rules! plain_numbers {
    ($($name:ident => $quantity:ident),* $(,)?) => {$(
        #[doc = concat!("Plain number of the quantity `", stringify!($quantity), "`, SI inside.")]
        #[derive(Debug, Clone, Copy, PartialEq)]
        pub struct $name(pub f64);

        impl<'de> Deserialize<'de> for $name {
            fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
                f64::deserialize(deserializer).map(|edge| Self(units::$quantity.to_si(edge)))
            }
        }

        impl utoipa::PartialSchema for $name {
            fn schema() -> RefOr<Schema> {
                plain_schema(&units::$quantity).into()
            }
        }

        impl utoipa::ToSchema for $name {}
    )*};
}

macro_rules! spread_numbers {
    ($($name:ident => $quantity:ident),* $(,)?) => {$(
        #[doc = concat!("Number of the quantity `", stringify!($quantity), "`, with or without a spread, SI inside.")]
        #[derive(Debug, Clone, Copy, PartialEq)]
        pub struct $name(pub Measured);

        impl<'de> Deserialize<'de> for $name {
            fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
                read_spread(deserializer, &units::$quantity).map(Self)
            }
        }

        impl utoipa::PartialSchema for $name {
            fn schema() -> RefOr<Schema> {
                spread_schema(&units::$quantity)
            }
        }

        impl utoipa::ToSchema for $name {}
    )*};
}

plain_numbers! {
    StitchCount => STITCH_COUNT,
    PartCount => PART_COUNT,
    ThreadKinds => THREAD_KINDS,
    CentreMm => CENTRE,
    RotationDeg => ROTATION,
    MediumThicknessMm => MEDIUM_THICKNESS,
    Permittivity => RELATIVE_PERMITTIVITY,
    PlainDiameterMm => DIAMETER,
    PlainWidthMm => WIDTH,
    PlainLengthMm => LENGTH,
    PlainCornerRadiusMm => CORNER_RADIUS,
    PlainInnerDiameterMm => INNER_DIAMETER,
    PlainOuterDiameterMm => OUTER_DIAMETER,
    LineWidthMm => LINE_WIDTH,
    PlainThreadDiameterMm => ROW_THREAD_DIAMETER,
    PlainRowSpacingMm => ROW_SPACING,
    HeightMm => HEIGHT,
    PlainStitchLengthMm => STITCH_LENGTH,
    PlainRunLengthMm => RUN_LENGTH,
    PlainColumnWidthMm => COLUMN_WIDTH,
    PlainDensityMm => SATIN_DENSITY,
    PlainFillHeightMm => FILL_HEIGHT,
    StitchedThicknessMm => STITCHED_THICKNESS,
    PlainInterlaceFraction => INTERLACE_FRACTION,
    CapacitancePf => CAPACITANCE,
    PlainBodyToEarthPf => BODY_TO_EARTH,
    PlainSupplyToEarthPf => SUPPLY_TO_EARTH,
    PlainBodyToSupplyPf => BODY_TO_SUPPLY,
    ClearanceMm => CLEARANCE,
    RelativeTolerance => RELATIVE_TOLERANCE,
}

spread_numbers! {
    ThreadM => THREAD_LENGTH,
    LayerThicknessMm => LAYER_THICKNESS,
    RelativePermittivity => RELATIVE_PERMITTIVITY,
    SewnThicknessMm => SEWN_THICKNESS,
    DiameterMm => DIAMETER,
    WidthMm => WIDTH,
    LengthMm => LENGTH,
    CornerRadiusMm => CORNER_RADIUS,
    InnerDiameterMm => INNER_DIAMETER,
    OuterDiameterMm => OUTER_DIAMETER,
    LinearResistanceOhmPerM => LINEAR_RESISTANCE,
    ThreadDiameterMm => THREAD_DIAMETER,
    LinearDensityTex => LINEAR_DENSITY,
    TemperatureCoefficientPerK => TEMPERATURE_COEFFICIENT,
    RowSpacingMm => ROW_SPACING,
    StitchLengthMm => STITCH_LENGTH,
    ColumnWidthMm => COLUMN_WIDTH,
    DensityMm => SATIN_DENSITY,
    RunLengthMm => RUN_LENGTH,
    InterlaceFraction => INTERLACE_FRACTION,
    ContactResistanceOhm => CONTACT_RESISTANCE,
    ChargeTimeUs => CHARGE_TIME,
    SeriesResistanceOhm => SERIES_RESISTANCE,
    MaxStandingPf => MAX_STANDING,
    NeededSignalPf => NEEDED_SIGNAL,
    MaxRunOhm => MAX_RUN,
    SettledPercent => SETTLED,
    FingertipDiameterMm => FINGERTIP,
    BodyToEarthPf => BODY_TO_EARTH,
    SupplyToEarthPf => SUPPLY_TO_EARTH,
    BodyToSupplyPf => BODY_TO_SUPPLY,
    TemperatureC => TEMPERATURE,
    WaterFraction => WATER_FRACTION,
    OpeningDiameterMm => OPENING_DIAMETER,
    GuardGapMm => GUARD_GAP,
    GuardWidthMm => GUARD_WIDTH,
    OffCentreMm => OFF_CENTRE,
}

// Runs, fills and settling.
plain_numbers! {
    PlainTopOhmPerM => TOP_RESISTANCE,
    PlainBobbinOhmPerM => BOBBIN_RESISTANCE,
    PlainFillThreadOhmPerM => FILL_THREAD,
    PlainContactOhm => CONTACT,
    PlainRunResistanceOhm => WHOLE_RUN,
    PlainRunCapacitancePf => WHOLE_RUN_CAPACITANCE,
    PlainLoadPf => LOAD,
    PlainSourceOhm => SOURCE,
    PlainPadOhm => PAD_RESISTANCE,
    PlainSampleTimeUs => SAMPLE_TIME,
    PlainSettledPercent => SETTLED,
}

spread_numbers! {
    GrowthPerWashPercent => GROWTH_PER_WASH,
    StretchFactor => STRETCH_FACTOR,
    StretchPercent => STRETCH,
    StitchContactOhm => STITCH_CONTACT,
    RowContactOhm => ROW_CONTACT,
    SheetResistanceOhmSq => SHEET_RESISTANCE,
    PitchMm => TERMINAL_PITCH,
    HoleDiameterMm => HOLE,
}

plain_numbers! {
    NeedleDiameterMm => NEEDLE_DIAMETER,
}

// Electrodes, amplifiers and stimulation.
plain_numbers! {
    FootprintCm2 => FOOTPRINT,
    PlainLoopHeightMm => LOOP_HEIGHT,
    PlainTouchingShare => TOUCHING_SHARE,
    PlainSurfaceGain => SURFACE_GAIN,
    PlainSkinResistance => SKIN_RESISTANCE,
    PlainSkinCapacitance => SKIN_CAPACITANCE,
    PlainMetalResistance => METAL_RESISTANCE,
    PlainMetalCapacitance => METAL_CAPACITANCE,
    PlainTissueResistivity => TISSUE_RESISTIVITY,
    PlainRunOhm => RUN_RESISTANCE,
    PlainInputResistanceMohm => INPUT_RESISTANCE,
    PlainInputCapacitancePf => INPUT_CAPACITANCE,
    PlainVoltageNoise => VOLTAGE_NOISE,
    PlainCurrentNoise => CURRENT_NOISE,
    PlainRejectionDb => REJECTION,
    PlainMismatchPercent => MISMATCH,
    PlainCommonModeMv => COMMON_MODE,
    MainsHz => MAINS,
    PlainSkinNoiseUv => SKIN_NOISE,
    BandLowHz => BAND_LOW,
    BandHighHz => BAND_HIGH,
    FrequencyHz => FREQUENCY,
    PlainPulseCurrentMa => PULSE_CURRENT,
    PlainPhaseWidthUs => PHASE_WIDTH,
    PlainPulseRateHz => PULSE_RATE,
}

// Electrodes of a piece.
spread_numbers! {
    LoopHeightMm => LOOP_HEIGHT,
    TouchingShare => TOUCHING_SHARE,
    SurfaceGain => SURFACE_GAIN,
    SkinResistance => SKIN_RESISTANCE,
    SkinCapacitance => SKIN_CAPACITANCE,
    MetalResistance => METAL_RESISTANCE,
    MetalCapacitance => METAL_CAPACITANCE,
    TissueResistivity => TISSUE_RESISTIVITY,
    SkinNoiseUv => SKIN_NOISE,
    PressureKpa => PRESSURE,
    TensionN => TENSION,
    BandWidthMm => BAND_WIDTH,
    GirthMm => GIRTH,
    SignalMv => SIGNAL_HEIGHT,
    InputResistanceMohm => INPUT_RESISTANCE,
    InputCapacitancePf => INPUT_CAPACITANCE,
    VoltageNoise => VOLTAGE_NOISE,
    CurrentNoise => CURRENT_NOISE,
    RejectionDb => REJECTION,
    MismatchPercent => MISMATCH,
    CommonModeMv => COMMON_MODE,
    PulseCurrentMa => PULSE_CURRENT,
    PhaseWidthUs => PHASE_WIDTH,
    PulseRateHz => PULSE_RATE,
    MaxCharge => MAX_CHARGE,
}

// Rows of lights, and what warms up.
plain_numbers! {
    PlainSupplyV => SUPPLY_VOLTAGE,
    PlainSupplyOhm => SOURCE_RESISTANCE,
    FeedSegmentOhm => FEED_SEGMENT,
    ReturnSegmentOhm => RETURN_SEGMENT,
    FarLeadOhm => FAR_LEAD,
    PlainLightSeriesOhm => LIGHT_SERIES,
    SaturationCurrentA => SATURATION_CURRENT,
    EmissionCoefficient => EMISSION_COEFFICIENT,
    ThermalVoltageV => THERMAL_VOLTAGE,
    PlainCurrentMa => CURRENT,
    PlainForwardV => FORWARD,
    PlainCapacityMah => CAPACITY,
    PlainUsableShare => USABLE_SHARE,
    PowerWPerM => POWER_PER_LENGTH,
    PlainCover => COVER,
    AmbientC => AMBIENT,
}

spread_numbers! {
    LightPitchMm => PITCH,
    LightSeriesOhm => LIGHT_SERIES,
    LightContactOhm => LIGHT_CONTACT,
    LightSaturationCurrentA => SATURATION_CURRENT,
    LightEmissionCoefficient => EMISSION_COEFFICIENT,
    LowCurrentMa => LOW_CURRENT,
    LowForwardV => LOW_FORWARD,
    HighCurrentMa => HIGH_CURRENT,
    HighForwardV => HIGH_FORWARD,
    FarLengthMm => FAR_LENGTH,
    LeastBrightnessPercent => LEAST_BRIGHTNESS,
    LeastCurrentMa => LEAST_CURRENT,
    MostCurrentMa => MOST_CURRENT,
    SupplyV => SUPPLY_VOLTAGE,
    EmptySupplyV => EMPTY_SUPPLY_VOLTAGE,
    SourceOhm => SOURCE_RESISTANCE,
    MaxSupplyMa => MAX_SUPPLY,
    CapacityMah => CAPACITY,
    UsableShare => USABLE_SHARE,
    NeededLifeH => NEEDED_LIFE,
    MaxTemperatureC => MAX_TEMPERATURE,
}

// Laid wires.
spread_numbers! {
    MetalDiameterMm => METAL_DIAMETER,
    ConductorAreaMm2 => SECTION,
    WireOhmPerM => WIRE_RESISTANCE,
    OutsideMm => OUTSIDE,
    LinearMassGPerM => LINEAR_MASS,
    MeanderWidthMm => MEANDER_WIDTH,
    MeanderHeightMm => MEANDER_HEIGHT,
    MeanderSpacingMm => MEANDER_SPACING,
    MinBendRadiusMm => BEND_RADIUS,
    NeedleClearanceMm => NEEDLE_CLEARANCE,
    AdvanceMm => ADVANCE,
    WireCurrentMa => WIRE_CURRENT,
    NeededPowerW => NEEDED_POWER,
    MaxResistanceOhm => MAX_RESISTANCE,
}

plain_numbers! {
    PlainMetalDiameterMm => METAL_DIAMETER,
    PlainAreaMm2 => SECTION,
    PlainWireOhmPerM => WIRE_RESISTANCE,
    PlainOutsideMm => OUTSIDE,
    PlainLinearMass => LINEAR_MASS,
    PlainMeanderWidthMm => MEANDER_WIDTH,
    PlainMeanderHeightMm => MEANDER_HEIGHT,
    PlainMeanderSpacingMm => MEANDER_SPACING,
    PlainBendRadiusMm => BEND_RADIUS,
    PlainNeedleClearanceMm => NEEDLE_CLEARANCE,
    PlainAdvanceMm => ADVANCE,
    PlainPace => PACE,
    PlainWireCurrentMa => WIRE_CURRENT,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spreads_are_read_in_either_order_and_anything_else_is_refused() {
        let read = |json: &str| serde_json::from_str::<LayerThicknessMm>(json).map(|n| n.0);
        assert_eq!(read("3").unwrap(), Measured::exact(0.003));
        assert_eq!(read(r#"{"plus_minus": 0.2, "value": 3}"#).unwrap(), Measured::normal(3.0, 0.2).rescaled(0.0, 1e3));
        assert_eq!(read(r#"{"low": 2.8, "high": 3.2}"#).unwrap(), Measured::uniform(2.8, 3.2).rescaled(0.0, 1e3));
        for bad in
            [r#"{"value": 3}"#, r#"{"low": 3, "plus_minus": 1}"#, r#"{"value":1,"plus_minus":1,"low":2}"#, "\"3\"", "null", "[3]", "{}"]
        {
            assert!(read(bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn what_is_written_reads_back_as_the_same_spread() {
        for measured in [Measured::exact(0.003), Measured::normal(0.003, 0.0002), Measured::uniform(0.0028, 0.0032)] {
            let mut text = Vec::new();
            write_spread(&measured, &units::LAYER_THICKNESS, &mut serde_json::Serializer::new(&mut text)).unwrap();
            let back = serde_json::from_slice::<LayerThicknessMm>(&text).unwrap().0;
            assert_eq!(back.spread, measured.spread);
            assert!(
                (back.value - measured.value).abs() < 1e-12 && (back.standard_uncertainty - measured.standard_uncertainty).abs() < 1e-12
            );
        }
    }
}
