//! A combination as a build sheet.

use crate::build::sheet::{Block, Build, ConnectingRod, Crankshaft, CylinderHead, HeadGasket, Piston};
use crate::units::{Length, Quantity, Volume};

use super::search::Task;
use super::settle::Settled;

/// The build sheet of these parts, with deck and heads as cut.
pub(super) fn assemble(task: &Task<'_>, parts: [u32; 6], settled: &Settled) -> Build {
    let (base, candidates) = (task.base, task.candidates);
    let [crank, rod, piston, gasket, head, _] = parts.map(|part| part as usize);
    let (piston, gasket, head) =
        (candidates.pistons[piston].fields, candidates.gaskets[gasket].fields, candidates.heads[head].fields);
    let chamber = head.chamber_volume.unwrap_or_default().si();
    let milled = head.chamber_area.unwrap_or_default().si() * settled.head_cut;
    Build {
        engine: base.engine.clone(),
        block: Block {
            bore: base.block.bore,
            deck_height: Length::from_si(base.block.deck_height.si() - settled.deck_cut),
        },
        crankshaft: Crankshaft { stroke: candidates.cranks[crank].fields.stroke.unwrap_or_default() },
        connecting_rod: ConnectingRod { length: candidates.rods[rod].fields.length.unwrap_or_default() },
        piston: Piston {
            compression_height: piston.compression_height.unwrap_or_default(),
            dish_volume: piston.dish_volume.unwrap_or_default(),
            dome_volume: piston.dome_volume.unwrap_or_default(),
            pin_offset: piston.pin_offset.unwrap_or_default(),
            top_land_height: piston.top_land_height,
            top_land_diameter: piston.top_land_diameter,
        },
        cylinder_head: CylinderHead { chamber_volume: Volume::from_si(chamber - milled) },
        head_gasket: HeadGasket {
            bore: gasket.bore,
            opening_area: gasket.opening_area,
            compressed_thickness: gasket.compressed_thickness.unwrap_or_default(),
        },
        camshaft: base.camshaft.clone(),
        running: base.running.clone(),
        oil: None,
        atmosphere: base.atmosphere.clone(),
        measured: None,
    }
}
