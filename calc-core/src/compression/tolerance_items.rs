//! The parts that can have a tolerance: how each is read, changed and how strongly it acts on the ratio.

use std::f64::consts::PI;

use crate::geometry::displacement::cylinder_volume;
use crate::units::{Length, Quantity};

use super::r#static::{StaticInput, volumes};
use super::tolerance::Tolerances;

/// A part that can have a tolerance.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Item {
    /// Cylinder bore.
    Bore,
    /// Stroke.
    Stroke,
    /// Combustion chamber.
    ChamberVolume,
    /// Diameter of the gasket's opening.
    GasketBore,
    /// Area of the gasket's opening.
    GasketArea,
    /// Compressed thickness of the gasket.
    GasketThickness,
    /// Deck clearance.
    DeckClearance,
    /// Dish.
    DishVolume,
    /// Dome.
    DomeVolume,
    /// Height of the land above the top ring.
    TopLandHeight,
    /// Diameter of that land.
    TopLandDiameter,
}

/// All of them, in the order in which random numbers are drawn.
pub const ITEMS: [Item; 11] = [
    Item::Bore,
    Item::Stroke,
    Item::ChamberVolume,
    Item::GasketBore,
    Item::GasketArea,
    Item::GasketThickness,
    Item::DeckClearance,
    Item::DishVolume,
    Item::DomeVolume,
    Item::TopLandHeight,
    Item::TopLandDiameter,
];

impl Item {
    /// Place of its tolerance in the request.
    pub(crate) fn path(self) -> &'static str {
        match self {
            Self::Bore => "tolerances/bore",
            Self::Stroke => "tolerances/stroke",
            Self::ChamberVolume => "tolerances/chamber_volume",
            Self::GasketBore => "tolerances/gasket_bore",
            Self::GasketArea => "tolerances/gasket_area",
            Self::GasketThickness => "tolerances/gasket_thickness",
            Self::DeckClearance => "tolerances/deck_clearance",
            Self::DishVolume => "tolerances/dish_volume",
            Self::DomeVolume => "tolerances/dome_volume",
            Self::TopLandHeight => "tolerances/top_land_height",
            Self::TopLandDiameter => "tolerances/top_land_diameter",
        }
    }

    /// Its tolerance in SI units, when there is one.
    pub(crate) fn tolerance(self, all: &Tolerances) -> Option<f64> {
        match self {
            Self::Bore => all.bore.map(Quantity::si),
            Self::Stroke => all.stroke.map(Quantity::si),
            Self::ChamberVolume => all.chamber_volume.map(Quantity::si),
            Self::GasketBore => all.gasket_bore.map(Quantity::si),
            Self::GasketArea => all.gasket_area.map(Quantity::si),
            Self::GasketThickness => all.gasket_thickness.map(Quantity::si),
            Self::DeckClearance => all.deck_clearance.map(Quantity::si),
            Self::DishVolume => all.dish_volume.map(Quantity::si),
            Self::DomeVolume => all.dome_volume.map(Quantity::si),
            Self::TopLandHeight => all.top_land_height.map(Quantity::si),
            Self::TopLandDiameter => all.top_land_diameter.map(Quantity::si),
        }
    }

    /// Its size in SI units, when the build has such a part.
    pub(crate) fn size(self, parts: &StaticInput) -> Option<f64> {
        match self {
            Self::Bore => Some(parts.bore.si()),
            Self::Stroke => Some(parts.stroke.si()),
            Self::ChamberVolume => Some(parts.chamber_volume.si()),
            Self::GasketBore => parts.gasket_bore.map(Quantity::si),
            Self::GasketArea => parts.gasket_area.map(Quantity::si),
            Self::GasketThickness => Some(parts.gasket_thickness.si()),
            Self::DeckClearance => Some(parts.deck_clearance.si()),
            Self::DishVolume => Some(parts.dish_volume.si()),
            Self::DomeVolume => Some(parts.dome_volume.si()),
            Self::TopLandHeight => parts.top_land_height.map(Quantity::si),
            Self::TopLandDiameter => parts.top_land_diameter.map(Quantity::si),
        }
    }

    /// Gives it another size, in SI units.
    pub(crate) fn set(self, parts: &mut StaticInput, size: f64) {
        match self {
            Self::Bore => parts.bore = Quantity::from_si(size),
            Self::Stroke => parts.stroke = Quantity::from_si(size),
            Self::ChamberVolume => parts.chamber_volume = Quantity::from_si(size),
            Self::GasketBore => parts.gasket_bore = Some(Quantity::from_si(size)),
            Self::GasketArea => parts.gasket_area = Some(Quantity::from_si(size)),
            Self::GasketThickness => parts.gasket_thickness = Quantity::from_si(size),
            Self::DeckClearance => parts.deck_clearance = Quantity::from_si(size),
            Self::DishVolume => parts.dish_volume = Quantity::from_si(size),
            Self::DomeVolume => parts.dome_volume = Quantity::from_si(size),
            Self::TopLandHeight => parts.top_land_height = Some(Quantity::from_si(size)),
            Self::TopLandDiameter => parts.top_land_diameter = Some(Quantity::from_si(size)),
        }
    }

    /// Slopes of the ratio and of the squish clearance against this part, all in SI units.
    pub(crate) fn slopes(self, parts: &StaticInput) -> [f64; 2] {
        let swept = cylinder_volume(parts.bore, parts.stroke).cubic_metres();
        let clearance = volumes(parts).clearance().cubic_metres();
        let [swept_slope, clearance_slope] = self.volume_slopes(parts);
        let ratio = (swept_slope - swept / clearance * clearance_slope) / clearance;
        let squish = if matches!(self, Self::GasketThickness | Self::DeckClearance) { 1.0 } else { 0.0 };
        [ratio, squish]
    }

    /// Slopes of the swept and of the clearance volume.
    fn volume_slopes(self, parts: &StaticInput) -> [f64; 2] {
        let (bore, stroke) = (parts.bore.metres(), parts.stroke.metres());
        let (thickness, deck) = (parts.gasket_thickness.metres(), parts.deck_clearance.metres());
        let land = parts.top_land_height.zip(parts.top_land_diameter);
        let [height, diameter] = land.map_or([0.0, bore], |(height, diameter)| [height.metres(), diameter.metres()]);
        let opening = parts.gasket_bore.unwrap_or_default().metres();
        let circle = PI / 4.0 * bore * bore;
        match self {
            Self::Bore => [PI / 2.0 * bore * stroke, PI / 2.0 * bore * (deck + height)],
            Self::Stroke => [circle, 0.0],
            Self::ChamberVolume | Self::DishVolume => [0.0, 1.0],
            Self::DomeVolume => [0.0, -1.0],
            Self::GasketBore => [0.0, PI / 2.0 * opening * thickness],
            Self::GasketArea => [0.0, thickness],
            Self::GasketThickness => {
                let one_metre = StaticInput { gasket_thickness: Length::from_metres(1.0), ..parts.clone() };
                [0.0, volumes(&one_metre).gasket.cubic_metres()]
            }
            Self::DeckClearance => [0.0, circle],
            Self::TopLandHeight => [0.0, circle - PI / 4.0 * diameter * diameter],
            Self::TopLandDiameter => [0.0, -PI / 2.0 * diameter * height],
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::super::r#static::tests::sound;
    use super::*;

    proptest! {
        #[test]
        fn slopes_are_those_of_the_ratio_itself(parts in sound()) {
            let clearance = volumes(&parts).clearance().cubic_centimetres();
            prop_assume!(clearance > 10.0);
            let ratio = |parts: &StaticInput| 1.0
                + cylinder_volume(parts.bore, parts.stroke).cubic_metres() / volumes(parts).clearance().cubic_metres();
            for item in ITEMS {
                let Some(size) = item.size(&parts) else { continue };
                let step = if matches!(item, Item::ChamberVolume | Item::DishVolume | Item::DomeVolume) { 1e-9 } else { 1e-6 };
                let at = |size: f64| {
                    let mut moved = parts.clone();
                    item.set(&mut moved, size);
                    ratio(&moved)
                };
                let numeric = (at(size + step) - at(size - step)) / (2.0 * step);
                let [exact, _] = item.slopes(&parts);
                prop_assert!((numeric - exact).abs() <= 1e-4 * exact.abs() + 1e-3, "{item:?} {numeric} {exact}");
            }
        }
    }
}
