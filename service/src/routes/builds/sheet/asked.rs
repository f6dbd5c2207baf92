//! A build sheet with what else is asked about it.

use serde::Deserialize;
use utoipa::ToSchema;

use super::super::rules::BuildRule;
use super::{
    Atmosphere, Block, BuildRequest, Camshaft, ConnectingRod, Crankshaft, CylinderHead, Engine, HeadGasket, Measured,
    Piston, Running,
};
use crate::routes::oil::oil_system::OilSystem;
use crate::wire::{ShortText, Units};

/// One engine as planned or as measured, the caller's rules for it, and whether the answer is to explain itself.
///
/// The sheet's own fields are those of [`BuildRequest`]: a section that is new there does not compile until it is here.
#[derive(Debug, Deserialize, ToSchema)]
#[schema(
    description = "One engine as planned or as measured, the caller's rules for it, and whether the answer is to explain itself."
)]
#[serde(deny_unknown_fields)]
pub struct EvaluateRequest {
    /// An identifier of the caller's, given back.
    id: Option<ShortText>,
    /// What the build is called, given back.
    title: Option<ShortText>,
    /// Unit system of bare numbers and of the answer.
    units: Units,
    /// Cylinders and how they stand.
    engine: Engine,
    /// The block.
    block: Block,
    /// The crankshaft.
    crankshaft: Crankshaft,
    /// The connecting rods.
    connecting_rod: ConnectingRod,
    /// The pistons.
    piston: Piston,
    /// The cylinder heads.
    cylinder_head: CylinderHead,
    /// The head gasket.
    head_gasket: HeadGasket,
    /// The camshaft, for the trapped ratio.
    camshaft: Option<Camshaft>,
    /// How the engine is to run, for speeds and accelerations.
    running: Option<Running>,
    /// The air that it breathes, for the end of compression.
    atmosphere: Option<Atmosphere>,
    /// What was measured cylinder by cylinder, for the ratio of each.
    measured: Option<Measured>,
    /// The oil system, for the oil budget at the running speed.
    oil: Option<Box<OilSystem>>,
    /// The caller's own limits on results: a broken one is a caution. At most 200.
    #[schema(max_items = 200)]
    rules: Option<Vec<BuildRule>>,
    /// Whether each result is to come with its equation, the numbers put in, and its sensitivities; not when absent.
    explain: Option<bool>,
}

/// What is asked besides the sheet's own consequences.
pub(crate) struct Asked {
    /// The caller's rules.
    pub(crate) rules: Vec<BuildRule>,
    /// Whether results are explained.
    pub(crate) explain: bool,
}

impl EvaluateRequest {
    /// The sheet, and what else is asked.
    pub(crate) fn parts(self) -> (BuildRequest, Asked) {
        let asked = Asked { rules: self.rules.unwrap_or_default(), explain: self.explain.unwrap_or_default() };
        let sheet = BuildRequest {
            id: self.id,
            title: self.title,
            units: self.units,
            engine: self.engine,
            block: self.block,
            crankshaft: self.crankshaft,
            connecting_rod: self.connecting_rod,
            piston: self.piston,
            cylinder_head: self.cylinder_head,
            head_gasket: self.head_gasket,
            camshaft: self.camshaft,
            running: self.running,
            atmosphere: self.atmosphere,
            measured: self.measured,
            oil: self.oil,
        };
        (sheet, asked)
    }

    /// Wants explanations, whatever the sheet says; or leaves it to the sheet.
    pub(crate) fn explain_too(&mut self, explain: bool) {
        self.explain = Some(explain || self.explain.unwrap_or_default());
    }
}
