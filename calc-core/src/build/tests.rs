//! An invented build with every field given, for the laws of the calculations over whole builds.

use super::sheet::{
    Atmosphere, Block, Build, Camshaft, ConnectingRod, Crankshaft, CylinderHead, Engine, HeadGasket, Layout, Measured,
    Piston, Running,
};
use crate::units::{Altitude, Angle, Area, Length, RotationalSpeed, Temperature, Volume};

/// The build.
pub(crate) fn demo() -> Build {
    Build {
        engine: Engine {
            cylinders: 8,
            layout: Layout::Vee,
            bank_angle: Some(Angle::from_degrees(90.0)),
            label_displacement: Some(Volume::from_cubic_inches(423.0)),
        },
        block: Block { bore: Length::from_inches(4.155), deck_height: Length::from_inches(9.475) },
        crankshaft: Crankshaft { stroke: Length::from_inches(3.9) },
        connecting_rod: ConnectingRod { length: Length::from_inches(6.2) },
        piston: Piston {
            compression_height: Length::from_inches(1.315),
            dish_volume: Volume::from_cubic_centimetres(11.0),
            dome_volume: Volume::from_cubic_centimetres(0.0),
            pin_offset: Length::from_inches(0.03),
            top_land_height: Some(Length::from_inches(0.24)),
            top_land_diameter: Some(Length::from_inches(4.128)),
        },
        cylinder_head: CylinderHead { chamber_volume: Volume::from_cubic_centimetres(70.5) },
        head_gasket: HeadGasket {
            bore: None,
            opening_area: Some(Area::from_square_inches(13.9)),
            compressed_thickness: Length::from_inches(0.041),
        },
        camshaft: Some(Camshaft {
            intake_closes_abdc: Angle::from_degrees(48.0),
            at_lift: Some(Length::from_inches(0.05)),
            seat_difference: Some(Angle::from_degrees(20.0)),
        }),
        running: Some(Running { engine_speed: RotationalSpeed::from_revolutions_per_minute(4600.0) }),
        oil: None,
        atmosphere: Some(Atmosphere {
            altitude: Altitude::from_altitude_metres(150.0),
            intake_temperature: Some(Temperature::from_degrees_celsius(25.0)),
        }),
        measured: Some(Measured {
            chamber_volumes: Some((0..8).map(|i| Volume::from_cubic_centimetres(70.2 + 0.1 * f64::from(i))).collect()),
            deck_heights: None,
        }),
    }
}
