//! What the trade knows about each machine operation: where it is done, what comes before it, what is measured.
//!
//! All of it is common practice without a source, and marked so in every answer.

/// A machine operation, by the trade's name; they stand in the order in which they are done.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Operation {
    /// Milling the joints of the main caps, so that the housings become too small.
    CutMainCaps,
    /// Honing all main bearing housings in one line.
    LineHone,
    /// Boring a cylinder to take a sleeve.
    BoreForSleeve,
    /// Pressing a sleeve in.
    FitSleeve,
    /// Milling a deck.
    DeckBlock,
    /// Boring a cylinder.
    BoreCylinder,
    /// Honing a cylinder to its finished size.
    HoneCylinder,
    /// Milling the face of a head.
    MillHead,
    /// Milling an intake face, or the manifold's side there.
    MillIntakeSide,
    /// Milling the end rails.
    MillEndRails,
}

/// Where an operation is done; its numbers count these.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Place {
    /// Main caps.
    MainCap,
    /// Main bearing housings.
    MainHousing,
    /// Cylinders.
    Cylinder,
    /// Decks, by bank.
    Deck,
    /// Faces of heads, by bank.
    HeadFace,
    /// Intake sides, by bank.
    IntakeSide,
    /// Both end rails; not numbered.
    EndRail,
}

/// What is measured before or after an operation.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Measurement {
    /// Bores of the main bearing housings, caps tightened.
    MainHousingBores,
    /// How straight the housings lie.
    MainHousingLine,
    /// Crank axis to camshaft axis.
    CrankToCamDistance,
    /// Crank axis to deck, at several places.
    DeckHeights,
    /// How flat the deck is.
    DeckFlatness,
    /// Bores at several depths, in two directions.
    Bores,
    /// Walls, by ultrasound.
    WallThickness,
    /// Diameters of the sleeve.
    SleeveDiameters,
    /// Diameters of the pistons.
    PistonDiameters,
    /// How flat the head is.
    HeadFlatness,
    /// Volumes of the combustion chambers.
    ChamberVolumes,
    /// Valve to piston.
    ValveToPistonClearance,
    /// Manifold ports and bolt holes against those of the heads.
    PortAlignment,
    /// Gaps at the end rails.
    EndRailGaps,
}

/// One operation must be done before another.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SequenceRule {
    /// The earlier one.
    pub first: Operation,
    /// The later one.
    pub then: Operation,
    /// Stable snake_case name.
    pub code: &'static str,
    /// Why.
    pub reason: &'static str,
}

const fn rule(first: Operation, then: Operation, code: &'static str, reason: &'static str) -> SequenceRule {
    SequenceRule { first, then, code, reason }
}

const LINE: &str = "Deck heights and bores are set up from the crank axis, and line-honing moves it.";
const AMOUNT: &str =
    "What must come off depends on what decks and heads have really lost: fit the heads and measure first.";

/// Every sequence rule.
pub const SEQUENCE: &[SequenceRule] = &{
    use Operation::{
        BoreCylinder, BoreForSleeve, CutMainCaps, DeckBlock, FitSleeve, HoneCylinder, LineHone, MillEndRails, MillHead,
        MillIntakeSide,
    };
    [
        rule(
            CutMainCaps,
            LineHone,
            "caps_before_line_hone",
            "The hone makes the housings round again after the caps are cut.",
        ),
        rule(LineHone, BoreForSleeve, "line_hone_before_bore", LINE),
        rule(BoreForSleeve, FitSleeve, "bore_before_sleeve", "The sleeve is pressed into the bore made for it."),
        rule(LineHone, DeckBlock, "line_hone_before_deck", LINE),
        rule(FitSleeve, DeckBlock, "sleeve_before_deck", "The cut across the deck faces the sleeve level with it."),
        rule(LineHone, BoreCylinder, "line_hone_before_bore", LINE),
        rule(FitSleeve, BoreCylinder, "sleeve_before_bore", "A sleeve is bored to size when it is in."),
        rule(DeckBlock, BoreCylinder, "bore_after_deck_reference", "The boring bar is set up from the finished deck."),
        rule(
            DeckBlock,
            HoneCylinder,
            "hone_after_deck",
            "A torque plate or a hone's fixture sits on the finished deck.",
        ),
        rule(BoreCylinder, HoneCylinder, "hone_after_bore", "The hone takes out what the boring bar has torn."),
        rule(DeckBlock, MillIntakeSide, "intake_after_deck_and_head", AMOUNT),
        rule(MillHead, MillIntakeSide, "intake_after_deck_and_head", AMOUNT),
        rule(DeckBlock, MillEndRails, "rails_after_deck_and_head", AMOUNT),
        rule(MillHead, MillEndRails, "rails_after_deck_and_head", AMOUNT),
    ]
};

impl Operation {
    /// Where it is done.
    #[must_use]
    pub const fn place(self) -> Place {
        match self {
            Self::CutMainCaps => Place::MainCap,
            Self::LineHone => Place::MainHousing,
            Self::BoreForSleeve | Self::FitSleeve | Self::BoreCylinder | Self::HoneCylinder => Place::Cylinder,
            Self::DeckBlock => Place::Deck,
            Self::MillHead => Place::HeadFace,
            Self::MillIntakeSide => Place::IntakeSide,
            Self::MillEndRails => Place::EndRail,
        }
    }

    /// What is measured before and after it.
    #[must_use]
    pub const fn measurements(self) -> [&'static [Measurement]; 2] {
        use Measurement::{
            Bores, ChamberVolumes, CrankToCamDistance, DeckFlatness, DeckHeights, EndRailGaps, HeadFlatness,
            MainHousingBores, MainHousingLine, PistonDiameters, PortAlignment, SleeveDiameters, ValveToPistonClearance,
            WallThickness,
        };
        match self {
            Self::CutMainCaps => [&[MainHousingBores], &[MainHousingBores]],
            Self::LineHone => [
                &[MainHousingBores, MainHousingLine],
                &[MainHousingBores, MainHousingLine, DeckHeights, CrankToCamDistance],
            ],
            Self::BoreForSleeve => [&[Bores, WallThickness, SleeveDiameters], &[Bores, WallThickness]],
            Self::FitSleeve => [&[Bores, SleeveDiameters], &[Bores]],
            Self::DeckBlock => [&[DeckHeights], &[DeckHeights, DeckFlatness]],
            Self::BoreCylinder => [&[Bores, WallThickness], &[Bores]],
            Self::HoneCylinder => [&[Bores, PistonDiameters], &[Bores]],
            Self::MillHead => {
                [&[HeadFlatness, ChamberVolumes], &[HeadFlatness, ChamberVolumes, ValveToPistonClearance]]
            }
            Self::MillIntakeSide => [&[PortAlignment], &[PortAlignment]],
            Self::MillEndRails => [&[EndRailGaps], &[EndRailGaps]],
        }
    }
}
