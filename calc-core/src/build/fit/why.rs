//! Why a combination ranks where it does, in figures and in words.

use crate::units::{Length, Price, Quantity, Ratio, rounded};

use super::question::Criterion;
use super::rank::Rank;

/// What a combination reaches in one criterion; the fields that belong to the criterion are there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Standing {
    /// Which criterion.
    pub criterion: Criterion,
    /// The sum of the prices.
    pub price: Option<Price>,
    /// Distance from the wanted ratio.
    pub ratio_difference: Option<Ratio>,
    /// Distance from the wanted squish clearance.
    pub squish_difference: Option<Length>,
    /// How many of the cuts are made.
    pub cuts: Option<u32>,
    /// What they take together.
    pub depth: Option<Length>,
    /// Whole steps that cover the distance or depth: what is compared.
    pub steps: Option<u64>,
}

impl Standing {
    fn of(criterion: Criterion) -> Self {
        Self {
            criterion,
            price: None,
            ratio_difference: None,
            squish_difference: None,
            cuts: None,
            depth: None,
            steps: None,
        }
    }
}

/// The figures behind a standing.
pub(super) struct Figures {
    pub(super) price: Price,
    pub(super) ratio: f64,
    pub(super) squish: f64,
    pub(super) deck_cut: f64,
    pub(super) head_cut: f64,
}

pub(super) fn standings(preference: &[Criterion], figures: &Figures, rank: &Rank) -> Vec<Standing> {
    let of = |(criterion, compared): (&Criterion, &u64)| {
        let standing = Standing::of(*criterion);
        let steps = Some(*compared);
        match criterion {
            Criterion::Price => Standing { price: Some(figures.price), ..standing },
            Criterion::StaticRatio { wanted, .. } => {
                let difference = Ratio::from_plain((figures.ratio - wanted.plain()).abs());
                Standing { ratio_difference: Some(difference), steps, ..standing }
            }
            Criterion::SquishClearance { wanted, .. } => {
                let difference = Length::from_si((figures.squish - wanted.si()).abs());
                Standing { squish_difference: Some(difference), steps, ..standing }
            }
            Criterion::NumberOfCuts => Standing { cuts: u32::try_from(*compared).ok(), ..standing },
            Criterion::DepthOfCuts { .. } => {
                Standing { depth: Some(Length::from_si(figures.deck_cut + figures.head_cut)), steps, ..standing }
            }
        }
    };
    preference.iter().zip(&rank.criteria).map(of).collect()
}

/// The first criterion in which a combination is worse than the one before it; none when only the catalogue's order decides.
pub(super) fn decided_by(before: &Rank, here: &Rank) -> Option<usize> {
    before.criteria.iter().zip(&here.criteria).position(|(before, here)| before < here)
}

/// The same in words.
pub(super) fn words(
    preference: &[Criterion],
    before: Option<&[Standing]>,
    here: &[Standing],
    decided: Option<usize>,
) -> String {
    let Some(before) = before else {
        return match preference.first() {
            Some(first) => format!("No combination that fits is better in {}.", named(first)),
            None => String::new(),
        };
    };
    let Some((place, (before, here))) =
        decided.and_then(|place| Some((place, before.get(place).zip(here.get(place))?)))
    else {
        return "As good as the one before in all that was asked for; its parts come later in the catalogue."
            .to_owned();
    };
    let equal = preference[..place].iter().map(named).collect::<Vec<_>>().join(" and ");
    let begin = if equal.is_empty() { String::new() } else { format!("Equal in {equal}, but ") };
    let text = match here.criterion {
        Criterion::Price => {
            let more = here.price.unwrap_or_default().si() - before.price.unwrap_or_default().si();
            format!("{begin}costs {} more than the one before.", rounded(more))
        }
        Criterion::StaticRatio { wanted, .. } => format!(
            "{begin}its ratio is {} from the wanted {}, that of the one before {}.",
            here.ratio_difference.unwrap_or_default().shown(),
            wanted.shown(),
            before.ratio_difference.unwrap_or_default().shown()
        ),
        Criterion::SquishClearance { wanted, .. } => format!(
            "{begin}its squish clearance is {} from the wanted {}, that of the one before {}.",
            here.squish_difference.unwrap_or_default().shown(),
            wanted.shown(),
            before.squish_difference.unwrap_or_default().shown()
        ),
        Criterion::NumberOfCuts => format!(
            "{begin}needs {} cuts, the one before {}.",
            here.cuts.unwrap_or_default(),
            before.cuts.unwrap_or_default()
        ),
        Criterion::DepthOfCuts { .. } => format!(
            "{begin}takes {} off, the one before {}.",
            here.depth.unwrap_or_default().shown(),
            before.depth.unwrap_or_default().shown()
        ),
    };
    let mut letters = text.chars();
    letters.next().map_or(String::new(), |first| first.to_uppercase().chain(letters).collect())
}

fn named(criterion: &Criterion) -> &'static str {
    match criterion {
        Criterion::Price => "price",
        Criterion::StaticRatio { .. } => "nearness to the wanted ratio",
        Criterion::SquishClearance { .. } => "nearness to the wanted squish clearance",
        Criterion::NumberOfCuts => "the number of cuts",
        Criterion::DepthOfCuts { .. } => "the depth of cuts",
    }
}
