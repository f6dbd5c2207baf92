//! The table of ranges: for every input the accepted one, then the usual one.

use validator::ValidationError;

use super::Limit;
use crate::units::{
    Altitude, Angle, Area, Density, DynamicViscosity, Flow, Force, KinematicViscosity, Length, Mass, Pressure, Price,
    Ratio, RotationalSpeed, SpecificEnergy, SpecificHeat, Speed, Temperature, TemperatureDifference, Volume,
};

macro_rules! limits {
    ($($(#[$doc:meta])* $name:ident $check:ident: $quantity:ident::$from:ident,
       $min:literal to $max:literal, usual $usual_min:literal to $usual_max:literal;)+) => {$(
        $(#[$doc])*
        pub const $name: Limit<$quantity> = Limit {
            min: $quantity::$from($min),
            max: $quantity::$from($max),
            usual_min: $quantity::$from($usual_min),
            usual_max: $quantity::$from($usual_max),
        };

        /// The same limit as a check for `#[validate(custom)]`.
        pub(crate) fn $check(value: &$quantity) -> Result<(), ValidationError> {
            $name.check(value)
        }
    )+

        #[cfg(test)]
        mod ends {
            use super::super::holds_from_end_to_end;
            use super::*;

            $(
                #[test]
                fn $check() {
                    holds_from_end_to_end(&$name);
                }
            )+
        }
    };
}

limits! {
    /// Cylinder bore.
    BORE bore: Length::from_inches, 0.2 to 40.0, usual 1.5 to 8.0;
    /// Piston stroke; also twice the crank radius.
    STROKE stroke: Length::from_inches, 0.2 to 100.0, usual 1.5 to 10.0;
    /// Connecting rod length between the centres of its eyes.
    ROD_LENGTH rod_length: Length::from_inches, 0.4 to 250.0, usual 3.0 to 16.0;
    /// Deck height: crank axis to the block's deck.
    DECK_HEIGHT deck_height: Length::from_inches, 0.5 to 400.0, usual 5.0 to 25.0;
    /// Piston compression height: pin axis to the flat of the crown.
    COMPRESSION_HEIGHT compression_height: Length::from_inches, 0.1 to 60.0, usual 0.7 to 4.0;
    /// Deck clearance: positive when the piston stops below the deck.
    DECK_CLEARANCE deck_clearance: Length::from_inches, -1.0 to 5.0, usual -0.08 to 0.25;
    /// A place on a face: along the crank, or across the bank.
    POSITION position: Length::from_inches, -1000.0 to 1000.0, usual -60.0 to 60.0;
    /// What is taken off a face or a bore beyond what it needs to clean up.
    CLEANUP_ALLOWANCE cleanup_allowance: Length::from_inches, 0.0 to 0.1, usual 0.0 to 0.01;
    /// What a piston is larger than standard.
    OVERSIZE oversize: Length::from_inches, 0.0 to 1.0, usual 0.0 to 0.125;
    /// New bore centre off the present one, in one direction.
    BORE_OFFSET bore_offset: Length::from_inches, -0.25 to 0.25, usual -0.03 to 0.03;
    /// Thickness of a cylinder wall.
    WALL wall: Length::from_inches, 0.005 to 6.0, usual 0.08 to 1.0;
    /// Depth below the deck.
    DEPTH depth: Length::from_inches, 0.0 to 200.0, usual 0.0 to 12.0;
    /// Clock position round a cylinder, from the engine's front: 30 degrees an hour.
    CLOCK_ANGLE clock_angle: Angle::from_degrees, 0.0 to 360.0, usual 0.0 to 360.0;
    /// Diameter of a main bearing's housing.
    MAIN_HOUSING main_housing: Length::from_inches, 0.2 to 40.0, usual 1.2 to 6.0;
    /// Taken off the parting face of a bearing cap.
    CAP_CUT cap_cut: Length::from_inches, 0.0 to 0.1, usual 0.0 to 0.02;
    /// A saddle off the line through the end saddles.
    SADDLE_DEVIATION saddle_deviation: Length::from_inches, -0.05 to 0.05, usual -0.006 to 0.006;
    /// A cylinder's axis to the normal of the main caps' parting faces.
    BORE_ANGLE bore_angle: Angle::from_degrees, 0.0 to 90.0, usual 0.0 to 90.0;
    /// The camshaft's direction to that normal.
    CAM_ANGLE cam_angle: Angle::from_degrees, 0.0 to 180.0, usual 0.0 to 120.0;
    /// Crank axis to camshaft axis.
    CAM_DISTANCE cam_distance: Length::from_inches, 0.5 to 200.0, usual 2.0 to 30.0;
    /// Pitch of a chain.
    CHAIN_PITCH chain_pitch: Length::from_inches, 0.1 to 4.0, usual 0.2 to 1.0;
    /// Piston-pin offset from the cylinder axis, or the cylinder axis's from the crank axis.
    PIN_OFFSET pin_offset: Length::from_inches, -2.0 to 2.0, usual -0.12 to 0.12;
    /// Compressed thickness of the head gasket; zero for a head that seals without one.
    GASKET_THICKNESS gasket_thickness: Length::from_inches, 0.0 to 0.5, usual 0.008 to 0.15;
    /// Diameter of the head gasket's round opening.
    GASKET_BORE gasket_bore: Length::from_inches, 0.2 to 42.0, usual 1.5 to 8.3;
    /// Area of the head gasket's opening, round or not.
    GASKET_AREA gasket_area: Area::from_square_inches, 0.03 to 1400.0, usual 1.7 to 55.0;
    /// Volume of the combustion chamber in the head; zero for a flat head.
    CHAMBER_VOLUME chamber_volume: Volume::from_cubic_centimetres, 0.0 to 50000.0, usual 4.0 to 400.0;
    /// Volume of a dish in, or of a dome on, the piston crown.
    CROWN_VOLUME crown_volume: Volume::from_cubic_centimetres, 0.0 to 50000.0, usual 0.0 to 120.0;
    /// All the volume above the piston at top centre.
    CLEARANCE_VOLUME clearance_volume: Volume::from_cubic_centimetres, 0.0 to 100000.0, usual 10.0 to 400.0;
    /// Height of the land above the top ring.
    TOP_LAND_HEIGHT top_land_height: Length::from_inches, 0.0 to 6.0, usual 0.0 to 1.0;
    /// Whole displacement of an engine.
    DISPLACEMENT displacement: Volume::from_cubic_inches, 0.05 to 2000000.0, usual 15.0 to 1500.0;
    /// Bank angle of a vee engine.
    BANK_ANGLE bank_angle: Angle::from_degrees, 1.0 to 180.0, usual 10.0 to 180.0;
    /// A crank angle after top centre.
    CRANK_ANGLE crank_angle: Angle::from_degrees, -7200.0 to 7200.0, usual -720.0 to 720.0;
    /// Intake closing, degrees after bottom centre.
    INTAKE_CLOSING intake_closing: Angle::from_degrees, 0.0 to 150.0, usual 20.0 to 110.0;
    /// The lift at which a valve event is stated.
    EVENT_LIFT event_lift: Length::from_inches, 0.0 to 1.5, usual 0.0 to 0.1;
    /// Depth into a chamber from the head's face.
    CHAMBER_DEPTH chamber_depth: Length::from_inches, 0.0 to 10.0, usual 0.0 to 2.0;
    /// Open area of a chamber at some depth.
    CHAMBER_AREA chamber_area: Area::from_square_inches, 0.0 to 1400.0, usual 0.0 to 55.0;
    /// Angle of a chamber's wall from the bore axis, positive where the chamber narrows with depth.
    WALL_ANGLE wall_angle: Angle::from_degrees, -60.0 to 80.0, usual -20.0 to 60.0;
    /// What is milled off a head.
    HEAD_CUT head_cut: Length::from_inches, 0.0 to 1.0, usual 0.0 to 0.06;
    /// A coordinate of a traced outline.
    OUTLINE_COORDINATE outline_coordinate: Length::from_inches, -50.0 to 50.0, usual -10.0 to 10.0;
    /// Radius of an arc of a traced outline.
    ARC_RADIUS arc_radius: Length::from_inches, 0.001 to 100.0, usual 0.01 to 10.0;
    /// Piston pin at top centre to the deck: compression height plus deck clearance.
    PIN_TO_DECK pin_to_deck: Length::from_inches, 0.1 to 60.0, usual 0.7 to 4.2;
    /// Liquid poured into a space above a piston or under a plate.
    POURED_VOLUME poured_volume: Volume::from_cubic_centimetres, 0.0 to 100000.0, usual 1.0 to 500.0;
    /// Hole of the plate through which a space is filled.
    FILL_HOLE fill_hole: Length::from_inches, 0.0 to 4.0, usual 0.0 to 1.0;
    /// Thickness of that plate.
    PLATE_THICKNESS plate_thickness: Length::from_inches, 0.0 to 4.0, usual 0.0 to 1.5;
    /// Diameter of a dish, pocket or relief in a crown.
    RECESS_DIAMETER recess_diameter: Length::from_inches, 0.01 to 40.0, usual 0.2 to 8.0;
    /// Depth of a dish, pocket or relief, or how far a piston is below the deck.
    RECESS_DEPTH recess_depth: Length::from_inches, 0.0 to 20.0, usual 0.0 to 2.0;
    /// From the cylinder axis to the axis of a pocket.
    POCKET_OFFSET pocket_offset: Length::from_inches, 0.0 to 40.0, usual 0.0 to 4.0;
    /// Angle between the axis of a relief and the bore axis.
    RELIEF_TILT relief_tilt: Angle::from_degrees, 0.0 to 75.0, usual 0.0 to 30.0;
    /// Tolerance of a length, either way.
    LENGTH_TOLERANCE length_tolerance: Length::from_inches, 0.0 to 0.25, usual 0.0 to 0.02;
    /// Tolerance of an area, either way.
    AREA_TOLERANCE area_tolerance: Area::from_square_inches, 0.0 to 100.0, usual 0.0 to 0.5;
    /// Tolerance of a volume, either way.
    VOLUME_TOLERANCE volume_tolerance: Volume::from_cubic_centimetres, 0.0 to 1000.0, usual 0.0 to 3.0;
    /// A wanted squish clearance.
    SQUISH_LIMIT squish_limit: Length::from_inches, -1.0 to 5.0, usual 0.02 to 0.12;
    /// Engine speed.
    ENGINE_SPEED engine_speed: RotationalSpeed::from_revolutions_per_minute, 1.0 to 30000.0, usual 200.0 to 12000.0;
    /// What one cut takes off a deck, a head or another face.
    FACE_CUT face_cut: Length::from_inches, 0.0 to 1.0, usual 0.0 to 0.06;
    /// New compressed thickness of the head gasket less the old one.
    GASKET_CHANGE gasket_change: Length::from_inches, -0.5 to 0.5, usual -0.1 to 0.1;
    /// How far an intake face turns up from square to the deck, or a bolt from square to that face.
    FACE_ANGLE face_angle: Angle::from_degrees, -90.0 to 90.0, usual -15.0 to 45.0;
    /// One coordinate of a point on block or head.
    COORDINATE coordinate: Length::from_inches, -400.0 to 400.0, usual -40.0 to 40.0;
    /// Diameter of a pushrod.
    PUSHROD_DIAMETER pushrod_diameter: Length::from_inches, 0.05 to 4.0, usual 0.18 to 0.6;
    /// Diameter of the passage that a pushrod runs through.
    PASSAGE_DIAMETER passage_diameter: Length::from_inches, 0.05 to 8.0, usual 0.2 to 1.5;
    /// Valve-to-piston clearance, as measured.
    VALVE_CLEARANCE valve_clearance: Length::from_inches, 0.0 to 4.0, usual 0.02 to 0.6;
    /// The clearance between valve and piston that a part maker asks for.
    LEAST_VALVE_CLEARANCE least_valve_clearance: Length::from_inches, 0.0 to 1.0, usual 0.03 to 0.2;
    /// How much deeper a valve sits in the head; negative when it stands out further.
    VALVE_SINKING valve_sinking: Length::from_inches, -0.5 to 0.5, usual -0.03 to 0.1;
    /// Valve axis to bore axis.
    VALVE_INCLINATION valve_inclination: Angle::from_degrees, 0.0 to 60.0, usual 0.0 to 40.0;
    /// Thickness of a cylinder's wall.
    CYLINDER_WALL cylinder_wall: Length::from_inches, 0.0 to 10.0, usual 0.06 to 0.75;
    /// Metal left for the hone, on the diameter.
    HONING_ALLOWANCE honing_allowance: Length::from_inches, 0.0 to 0.1, usual 0.001 to 0.008;
    /// By how much a sleeve is larger than the bore it is pressed into.
    SLEEVE_INTERFERENCE sleeve_interference: Length::from_inches, 0.0 to 0.05, usual 0.0005 to 0.006;
    /// Bore of a main bearing housing.
    MAIN_HOUSING_BORE main_housing_bore: Length::from_inches, 0.2 to 60.0, usual 1.5 to 6.0;
    /// The most that one pass of a machine takes.
    STOCK_PER_PASS stock_per_pass: Length::from_inches, 0.0001 to 1.0, usual 0.0002 to 0.15;
    /// How much later the valve seats than the stated event at a lift.
    SEAT_DIFFERENCE seat_difference: Angle::from_degrees, 0.0 to 90.0, usual 5.0 to 45.0;
    /// A compression ratio, static, trapped or wanted; at one there would be no stroke.
    COMPRESSION_RATIO compression_ratio: Ratio::from_plain, 1.01 to 40.0, usual 4.0 to 24.0;
    /// Geopotential altitude above mean sea level: the range of ISO 2533 that is used here.
    ALTITUDE altitude: Altitude::from_altitude_metres, -2000.0 to 20000.0, usual -450.0 to 4500.0;
    /// Temperature of the intake air.
    INTAKE_TEMPERATURE intake_temperature: Temperature::from_degrees_celsius, -60.0 to 150.0, usual -40.0 to 70.0;
    /// How much warmer the charge is at intake closing than the intake air.
    CHARGE_HEATING charge_heating: TemperatureDifference::from_celsius_steps, 0.0 to 200.0, usual 0.0 to 90.0;
    /// Temperature of the charge at the start of compression.
    CHARGE_TEMPERATURE charge_temperature: Temperature::from_degrees_celsius, -60.0 to 250.0, usual -30.0 to 160.0;
    /// Absolute pressure of the charge at the start of compression, or of the air around.
    CHARGE_PRESSURE charge_pressure: Pressure::from_bar, 0.02 to 10.0, usual 0.2 to 4.0;
    /// Exponent of a polytropic compression.
    POLYTROPIC_EXPONENT polytropic_exponent: Ratio::from_plain, 1.0 to 1.67, usual 1.2 to 1.42;
    /// Spark before top centre.
    SPARK_ADVANCE spark_advance: Angle::from_degrees, -20.0 to 80.0, usual 0.0 to 50.0;
    /// Crank travel from spark to the end of the Wiebe burn.
    BURN_DURATION burn_duration: Angle::from_degrees, 10.0 to 150.0, usual 30.0 to 90.0;
    /// Wiebe's factor a: how complete the burn is at the end of its duration.
    WIEBE_FACTOR wiebe_factor: Ratio::from_plain, 1.0 to 10.0, usual 2.0 to 7.0;
    /// Wiebe's form m, of the exponent m + 1: how slowly the burn starts.
    WIEBE_FORM wiebe_form: Ratio::from_plain, 0.0 to 6.0, usual 1.0 to 4.0;
    /// Lower heating value of a fuel.
    HEATING_VALUE heating_value: SpecificEnergy::from_megajoules_per_kilogram, 5.0 to 125.0, usual 15.0 to 50.0;
    /// Mass of air per mass of fuel.
    AIR_FUEL_RATIO air_fuel_ratio: Ratio::from_plain, 1.0 to 80.0, usual 5.0 to 20.0;
    /// Octane number of a fuel.
    OCTANE_NUMBER octane_number: Ratio::from_plain, 40.0 to 140.0, usual 80.0 to 120.0;
    /// Kinematic viscosity of an oil at one point of its data sheet.
    OIL_VISCOSITY oil_viscosity: KinematicViscosity::from_square_millimetres_per_second, 1.0 to 100000.0, usual 2.0 to 2000.0;
    /// Temperature of an oil; the equations' own range is checked for each oil.
    OIL_TEMPERATURE oil_temperature: Temperature::from_degrees_celsius, -60.0 to 300.0, usual -40.0 to 170.0;
    /// Density of an oil.
    OIL_DENSITY oil_density: Density::from_kilograms_per_cubic_metre, 600.0 to 1300.0, usual 800.0 to 1000.0;
    /// Viscosity of an engine oil at 150 degrees C and high shear.
    HIGH_SHEAR_VISCOSITY high_shear_viscosity: DynamicViscosity::from_millipascal_seconds, 0.5 to 30.0, usual 1.6 to 8.0;
    /// Gauge pressure of oil.
    OIL_PRESSURE oil_pressure: Pressure::from_pounds_per_square_inch, -14.6 to 10000.0, usual 0.0 to 200.0;
    /// Absolute pressure of the air around an engine.
    AIR_PRESSURE air_pressure: Pressure::from_bar, 0.05 to 1.3, usual 0.5 to 1.08;
    /// Diameter of a drilled hole that oil flows through.
    OIL_HOLE oil_hole: Length::from_inches, 0.002 to 3.0, usual 0.02 to 0.6;
    /// Length of such a hole.
    OIL_HOLE_LENGTH oil_hole_length: Length::from_inches, 0.001 to 60.0, usual 0.02 to 4.0;
    /// A hole's discharge coefficient at high Reynolds number.
    DISCHARGE_COEFFICIENT discharge_coefficient: Ratio::from_plain, 0.3 to 1.0, usual 0.6 to 0.95;
    /// A flow of oil.
    OIL_FLOW oil_flow: Flow::from_us_gallons_per_minute, 1e-9 to 2000.0, usual 0.001 to 60.0;
    /// A diameter in an oil circuit: of a hole, a passage, a gap or a journal.
    CIRCUIT_DIAMETER circuit_diameter: Length::from_inches, 0.002 to 20.0, usual 0.02 to 6.0;
    /// A length in an oil circuit.
    CIRCUIT_LENGTH circuit_length: Length::from_inches, 0.001 to 240.0, usual 0.02 to 60.0;
    /// Square drilled turns of a passage.
    CIRCUIT_BENDS circuit_bends: Ratio::from_plain, 0.0 to 50.0, usual 0.0 to 8.0;
    /// Off centre as a share of the radial clearance.
    CIRCUIT_ECCENTRICITY circuit_eccentricity: Ratio::from_plain, 0.0 to 1.0, usual 0.0 to 1.0;
    /// Displacement of an oil pump in one revolution.
    PUMP_DISPLACEMENT pump_displacement: Volume::from_cubic_centimetres, 0.01 to 50000.0, usual 2.0 to 200.0;
    /// Pump revolutions per revolution of the crankshaft.
    DRIVE_RATIO drive_ratio: Ratio::from_plain, 0.01 to 20.0, usual 0.4 to 2.5;
    /// A pressure that a valve, a filter or a rule is known by.
    VALVE_PRESSURE valve_pressure: Pressure::from_pounds_per_square_inch, 0.01 to 5000.0, usual 0.5 to 200.0;
    /// Viscosity at which a filter, a cooler or a pump was measured.
    RATING_VISCOSITY rating_viscosity: DynamicViscosity::from_millipascal_seconds, 0.5 to 20000.0, usual 2.0 to 600.0;
    /// A place in a turning shaft, from its axis.
    SHAFT_RADIUS shaft_radius: Length::from_inches, 0.0 to 50.0, usual 0.0 to 6.0;
    /// Gauge pressure that is known at a node.
    REFERENCE_PRESSURE reference_pressure: Pressure::from_pounds_per_square_inch, -14.0 to 5000.0, usual -2.0 to 150.0;
    /// Velocity of oil that a caller names as limit.
    OIL_SPEED oil_speed: Speed::from_metres_per_second, 0.01 to 200.0, usual 0.5 to 12.0;
    /// How much warmer a bearing's film is than the oil that feeds it.
    FILM_RISE film_rise: TemperatureDifference::from_celsius_steps, 0.0 to 150.0, usual 0.0 to 60.0;
    /// Diameter of a bore with a round part in it that leaks.
    GAP_DIAMETER gap_diameter: Length::from_inches, 0.02 to 40.0, usual 0.1 to 4.0;
    /// Diameter of that bore less that of the part.
    GAP_CLEARANCE gap_clearance: Length::from_inches, 0.00002 to 0.25, usual 0.0003 to 0.008;
    /// Length of the gap along the leak.
    GAP_LENGTH gap_length: Length::from_inches, 0.005 to 40.0, usual 0.1 to 5.0;
    /// A drop of pressure, or the gauge pressure that feeds what drains into the air.
    PRESSURE_DROP pressure_drop: Pressure::from_pounds_per_square_inch, 0.001 to 10000.0, usual 0.05 to 200.0;
    /// Diameter of a drilled gallery.
    PASSAGE_BORE passage_bore: Length::from_inches, 0.01 to 8.0, usual 0.06 to 1.2;
    /// Length of a drilled gallery.
    PASSAGE_LENGTH passage_length: Length::from_inches, 0.01 to 800.0, usual 0.3 to 60.0;
    /// Height of the roughness of its wall.
    WALL_ROUGHNESS wall_roughness: Length::from_inches, 0.0 to 0.05, usual 0.0 to 0.002;
    /// Sum of loss coefficients on the passage's own speed.
    LOSS_COEFFICIENT loss_coefficient: Ratio::from_plain, 0.0 to 1000.0, usual 0.0 to 30.0;
    /// A hole in a bearing shell, or the hole that feeds it.
    FEED_HOLE feed_hole: Length::from_inches, 0.01 to 8.0, usual 0.06 to 0.6;
    /// The round face on which a shell's hole and the feed's meet.
    FEED_FACE feed_face: Length::from_inches, 0.1 to 60.0, usual 1.0 to 6.0;
    /// How far a shell is turned.
    TURNED_ANGLE turned_angle: Angle::from_degrees, -180.0 to 180.0, usual -45.0 to 45.0;
    /// The same as a distance on the face, or a distance along the shaft.
    HOLE_DISTANCE hole_distance: Length::from_inches, -100.0 to 100.0, usual -1.0 to 1.0;
    /// Diameter of a journal.
    JOURNAL_DIAMETER journal_diameter: Length::from_inches, 0.1 to 40.0, usual 0.8 to 5.0;
    /// Width of a bearing, grooves included.
    BEARING_WIDTH bearing_width: Length::from_inches, 0.02 to 60.0, usual 0.3 to 3.0;
    /// Width of one land beside a groove.
    BEARING_LAND bearing_land: Length::from_inches, 0.01 to 30.0, usual 0.1 to 1.5;
    /// Diameter of a bearing less that of its journal.
    BEARING_CLEARANCE bearing_clearance: Length::from_inches, 0.00005 to 0.25, usual 0.0006 to 0.006;
    /// Width of a groove in a bearing.
    GROOVE_WIDTH groove_width: Length::from_inches, 0.005 to 10.0, usual 0.06 to 0.4;
    /// How far round a groove reaches.
    GROOVE_ARC groove_arc: Angle::from_degrees, 1.0 to 359.0, usual 20.0 to 200.0;
    /// Where a groove or hole is, from the direction of the load.
    FEED_POSITION feed_position: Angle::from_degrees, -360.0 to 360.0, usual -360.0 to 360.0;
    /// Load on a bearing.
    BEARING_LOAD bearing_load: Force::from_pounds_force, 0.0 to 5000000.0, usual 10.0 to 30000.0;
    /// Mass of a moving part.
    MOVING_MASS moving_mass: Mass::from_grams, 0.0 to 5000000.0, usual 0.0 to 4000.0;
    /// Highest gauge pressure of the gas in a cylinder.
    GAS_PRESSURE gas_pressure: Pressure::from_pounds_per_square_inch, 0.0 to 10000.0, usual 0.0 to 3000.0;
    /// Where that pressure is reached, after top centre.
    GAS_ANGLE gas_angle: Angle::from_degrees, -30.0 to 90.0, usual 0.0 to 30.0;
    /// Heat that warms one unit of mass of an oil by one degree.
    OIL_HEAT oil_heat: SpecificHeat::from_kilojoules_per_kilogram_kelvin, 1.0 to 4.5, usual 1.6 to 2.6;
    /// Least film, or height of roughness, to hold a film against.
    FILM_THICKNESS film_thickness: Length::from_micrometres, 0.01 to 1000.0, usual 0.05 to 25.0;
    /// A share of a whole.
    SHARE share: Ratio::from_plain, 0.0 to 1.0, usual 0.0 to 1.0;
    /// Diameter of a piston pin.
    PIN_DIAMETER pin_diameter: Length::from_inches, 0.05 to 20.0, usual 0.4 to 2.5;
    /// Diameter of a rod journal.
    ROD_JOURNAL rod_journal: Length::from_inches, 0.1 to 40.0, usual 1.0 to 5.0;
    /// Price of the set of a part that one engine needs, in the caller's currency.
    PRICE price: Price::from_per_set, 0.0 to 100000000.0, usual 0.0 to 50000.0;
    /// Differences of a ratio that count as equal.
    RATIO_STEP ratio_step: Ratio::from_plain, 0.00001 to 5.0, usual 0.001 to 0.5;
    /// Differences of a length that count as equal.
    LENGTH_STEP length_step: Length::from_inches, 0.000001 to 0.5, usual 0.0001 to 0.01;
}
