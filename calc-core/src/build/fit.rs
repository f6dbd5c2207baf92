//! Which parts of a catalogue fit together inside the limits, the best first: exact, without looking at every combination.

use crate::caution::{About, COMMON_PRACTICE, Caution, STANDING, Severity};
use crate::error::Error;
use crate::method::Method;
use crate::units::{Length, Price, Quantity};

use super::evaluate::{self, Evaluation};
use super::sheet::Build;

mod assemble;
pub mod catalogue;
mod fields;
mod limits;
mod merge;
mod pools;
pub mod question;
mod rank;
mod rules;
pub mod search;
mod settle;
mod sums;
#[cfg(test)]
mod tests;
mod trio;
pub mod why;

use assemble::assemble;
use catalogue::SLOTS;
use fields::Fields;
use limits::Limits;
use merge::{Candidates, PRICE_STEPS};
use pools::Pools;
use question::FitInput;
use rank::Rank;
use search::{Found, Least, Running, Stages, Task, search};
use settle::{Frame, Settled, Train};
use sums::Sums;
use why::{Figures, Standing, decided_by, standings, words};

/// How [`evaluate()`] works.
pub const METHOD: Method = Method {
    id: "parts-fit",
    title: "The best combinations of a parts catalogue within limits",
    equation: "Of all combinations of one part for each slot, those whose keys match (sizes equal to the nanometre) and whose \
         results keep to the limits (lengths to within a nanometre, other results to within 1e-9 of the limit), in the order of \
         the preference: first criterion first, then the next, at last the places of the parts in the slots. Deck clearance c = \
         H - q - sqrt((L + S/2)^2 - e^2) - CH, squish clearance c + t, clearance volume chamber - a h + gasket + (pi/4) B^2 c + \
         dish - dome + top land, ratio 1 + Vs/Vc; q the deck cut, h the head cut, a the open area of the chamber at the head's \
         face. Each combination gets the smallest deck cut of its range with which some head cut keeps the limits on deck \
         clearance, squish clearance, clearance volume, static and trapped ratio, and for that the smallest head cut; a cut that \
         is needed goes exactly to the limit. Differences from a wanted value count in whole steps. A combination is counted \
         under the first rule or limit that rejects it.",
    valid_for: "What the single results are valid for. Straight chamber walls over the head cut: a profile that widens or narrows \
         removes another volume. The counts and the order are exact; bounds only spare combinations that cannot be among the \
         best.",
    sources: &[
        "First principles (the definition of the search)",
        "A. H. Land and A. G. Doig, An automatic method of solving discrete programming problems, Econometrica 28 (1960) \
         (branch and bound; from memory)",
    ],
};

/// The best combinations, and what became of all others.
#[derive(Debug, Clone, PartialEq)]
pub struct Fit {
    /// All combinations of one candidate for each slot.
    pub considered: u128,
    /// Those that no rule and no limit rejects.
    pub fitting: u128,
    /// The others by the first rule or limit that rejects them, in the order in which they are checked.
    pub rejected: Vec<Rejected>,
    /// The best, in order.
    pub best: Vec<Combination>,
    /// What to look at twice; the standing caution comes last.
    pub cautions: Vec<Caution>,
}

/// How many combinations a rule or limit rejects.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Rejected {
    /// The name of the rule, or the path of the result that is limited.
    pub by: &'static str,
    /// Whether that is a limit of the caller's.
    pub is_limit: bool,
    /// How many.
    pub combinations: u128,
}

/// One combination.
#[derive(Debug, Clone, PartialEq)]
pub struct Combination {
    /// Places of its parts in the slots; none where the base fills the slot.
    pub parts: [Option<usize>; 6],
    /// The sum of their prices.
    pub price: Price,
    /// What is cut off the decks.
    pub deck_cut: Length,
    /// What is cut off the heads.
    pub head_cut: Length,
    /// What it reaches in each criterion.
    pub standings: Vec<Standing>,
    /// The place of the criterion in which it is worse than the one before.
    pub decided_by: Option<usize>,
    /// Why it ranks here.
    pub why: String,
    /// The build sheet.
    pub build: Build,
    /// What follows from it; without the standing caution, which stands once in the answer.
    pub evaluation: Evaluation,
}

/// Names of the rules, in the order in which they are checked; the limits come after.
pub const RULES: [&str; 5] = ["cylinder_bore", "pin_diameter", "rod_journal", "bearing_width", "rod_clears_crank"];
/// The rule that the ratio is not above the highest that is accepted, and that something is left above the piston at all; after
/// the limits on deck and squish clearance.
pub const HIGHEST_RATIO: &str = "highest_ratio";

/// The best combinations of a catalogue's parts.
///
/// **Equation** See [`METHOD`].
///
/// **Shape** Lists of candidates by slot; up to [`question::MOST_BEST`] combinations.
///
/// **Units** Lengths, areas, volumes and prices, any.
///
/// **Valid for** At most [`catalogue::MOST_PARTS`] parts, and searches of at most [`search::MOST_WORK`] steps.
///
/// **Errors** [`Error::Invalid`] with every fault of the question, or with the slot to narrow when the search would take too
/// many steps; [`Error::Stopped`] when nobody waits for the answer.
///
/// **Source** First principles; branch and bound after Land and Doig (1960).
pub fn evaluate(input: &FitInput, running: &Running<'_>) -> Result<Fit, Error> {
    let candidates = rules::check(input)?;
    let limits = Limits::sort(&input.limits, input.base.camshaft.as_ref());
    let frame = frame(input, &limits);
    let pools = Pools::sort(&candidates, &frame, input.base.block.bore, rules::wants_price(&input.preference))?;
    let task = task(input, &candidates, &limits, frame, &pools);
    let found = search(&task, running)?;
    Ok(Fit {
        considered: pools.left[0],
        fitting: found.fitting,
        rejected: rejected(&limits, &pools, &found),
        best: combinations(&task, input, &found)?,
        cautions: cautions(input, &candidates),
    })
}

fn frame(input: &FitInput, limits: &Limits) -> Frame {
    let bore = input.base.block.bore.si();
    let range = |cut: Option<question::CutRange>| cut.map_or([0.0; 2], |cut| [cut.least.si(), cut.most.si()]);
    Frame {
        area: std::f64::consts::PI / 4.0 * bore * bore,
        deck_height: input.base.block.deck_height.si(),
        deck_cut: range(input.deck_cut),
        head_cut: range(input.head_cut),
        clearance: limits.clearance_bounds(),
        squish: limits.squish_bounds(),
    }
}

fn task<'a>(
    input: &'a FitInput,
    candidates: &'a Candidates,
    limits: &'a Limits,
    frame: Frame,
    pools: &'a Pools,
) -> Task<'a> {
    let mut larges: Vec<f64> = pools.heads.iter().map(|head| head.large).collect();
    larges.sort_by(f64::total_cmp);
    let gaskets: Vec<f64> = pools.gaskets.iter().map(|gasket| gasket.volume).collect();
    let smalls: Vec<f64> = pools.heads.iter().map(|head| head.small).collect();
    let both = || Some([Sums::of(&gaskets, &smalls)?, Sums::of(&gaskets, &larges)?]);
    Task {
        base: &input.base,
        places: input.places,
        candidates,
        frame,
        limits,
        pools,
        preference: &input.preference,
        wanted: input.best as usize,
        sums: if frame.deck_is_fixed() { both() } else { None },
        least: Least {
            gasket: pools.gaskets.iter().map(|gasket| gasket.price).min().unwrap_or(0),
            head: pools.heads.iter().map(|head| head.price).min().unwrap_or(0),
            volume: gaskets.iter().copied().fold(f64::INFINITY, f64::min) + smalls.first().copied().unwrap_or(0.0),
        },
        larges,
    }
}

fn rejected(limits: &Limits, pools: &Pools, found: &Found) -> Vec<Rejected> {
    let rule = |by, combinations| Rejected { by, is_limit: false, combinations };
    let limit = |by, combinations| Rejected { by, is_limit: true, combinations };
    let (train, volume, evaluated) = limits.names();
    let stages = Stages::of(limits);
    let counts = &found.rejected;
    let mut all: Vec<_> = (0..4)
        .map(|key| rule(RULES[key], pools.left[key] - pools.left[key + 1]))
        .chain([rule(RULES[4], counts[0])])
        .collect();
    let mut places = (1..stages.clearance).collect::<Vec<_>>();
    places.extend(limits.clearance.iter().map(|_| stages.clearance));
    places.extend(limits.squish.iter().map(|_| stages.squish));
    all.extend(train.into_iter().zip(places).map(|(by, place)| limit(by, counts[place])));
    all.push(rule(HIGHEST_RATIO, counts[stages.volume]));
    let places = stages.volume + 1..stages.count;
    all.extend(volume.into_iter().chain(evaluated).zip(places).map(|(by, place)| limit(by, counts[place])));
    all
}

fn combinations(task: &Task<'_>, input: &FitInput, found: &Found) -> Result<Vec<Combination>, Error> {
    let mut best: Vec<Combination> = Vec::new();
    let mut before: Option<&Rank> = None;
    for rank in found.best.ranks() {
        let decided = before.and_then(|before| decided_by(before, rank));
        let one = combination(task, input, rank, decided, best.last())?;
        before = Some(rank);
        best.push(one);
    }
    Ok(best)
}

fn combination(
    task: &Task<'_>,
    input: &FitInput,
    rank: &Rank,
    decided_by: Option<usize>,
    before: Option<&Combination>,
) -> Result<Combination, Error> {
    let settled = settle(task, rank.parts)?;
    let build = assemble(task, rank.parts, &settled);
    let mut evaluation = evaluate::evaluate(&build)?;
    evaluation.cautions.retain(|caution| *caution != STANDING);
    let price = price(task.candidates, rank.parts);
    let figures = Figures {
        price,
        ratio: evaluation.compression.static_ratio,
        squish: evaluation.geometry.squish_clearance.si(),
        deck_cut: settled.deck_cut,
        head_cut: settled.head_cut,
    };
    let standings = standings(&input.preference, &figures, rank);
    let why = words(&input.preference, before.map(|before| before.standings.as_slice()), &standings, decided_by);
    let sizes = input.catalogue.sizes();
    let part = |slot: usize| sizes[slot].map(|_| rank.parts[slot] as usize);
    Ok(Combination {
        parts: [0, 1, 2, 3, 4, 5].map(part),
        price,
        deck_cut: Length::from_si(settled.deck_cut),
        head_cut: Length::from_si(settled.head_cut),
        standings,
        decided_by,
        why,
        build,
        evaluation,
    })
}

/// The cuts of a combination that was found to fit.
fn settle(task: &Task<'_>, parts: [u32; 6]) -> Result<Settled, Error> {
    let lost = || Error::NotConverged { what: "a combination that was found", residual: 0.0 };
    let candidates = task.candidates;
    let [crank, rod, piston, gasket, head, _] = parts.map(|part| part as usize);
    let pools = &task.pools.pistons;
    let mut pistons = pools.iter().flat_map(|pool| pool.pistons.iter().map(move |one| (pool.offset, one)));
    let (offset, piston) = pistons.find(|(_, one)| one.index as usize == piston).ok_or_else(lost)?;
    let gasket = task.pools.gaskets.iter().find(|one| one.index as usize == gasket).ok_or_else(lost)?;
    let head = task.pools.heads.iter().find(|one| one.index as usize == head).ok_or_else(lost)?;
    let stroke = candidates.cranks[crank].fields.stroke.unwrap_or_default();
    let length = candidates.rods[rod].fields.length.unwrap_or_default();
    let train = Train::bounded(stroke.si(), length.si(), offset, task.limits, &task.frame, &mut Vec::new());
    let clearance = task.frame.deck_height - train.pin - piston.crown;
    let above = piston.volume + task.frame.area * clearance;
    task.frame.settle(&train, clearance, above, gasket, head).ok_or_else(lost)
}

fn price(candidates: &Candidates, parts: [u32; 6]) -> Price {
    let [crank, rod, piston, gasket, head, bearing] = parts.map(|part| part as usize);
    let sum = candidates.cranks[crank].price
        + candidates.rods[rod].price
        + candidates.pistons[piston].price
        + candidates.gaskets[gasket].price
        + candidates.heads[head].price
        + candidates.bearings[bearing].price;
    Price::from_si(sum as f64 / PRICE_STEPS)
}

fn cautions(input: &FitInput, candidates: &Candidates) -> Vec<Caution> {
    let mut cautions = unchecked_keys(candidates);
    if input.head_cut.is_some_and(|cut| cut.most > Length::default()) {
        cautions.push(Caution {
            code: "straight_chamber_walls",
            severity: Severity::Caution,
            about: About::Request,
            path: "head_cut".into(),
            detail: "A head cut is counted as open area times depth, which holds for chamber walls square to the face. Where they \
                are not, pour the chamber after the cut, or work from its profile."
                .into(),
            source: "First principles (volume of a prism)",
        });
    }
    cautions.push(STANDING);
    cautions
}

/// Sizes that must match, but that one side of the match does not state.
fn unchecked_keys(candidates: &Candidates) -> Vec<Caution> {
    fn states<F: Fields>(parts: &[merge::Whole<F>], key: &str) -> bool {
        parts.iter().any(|part| part.fields.keys().iter().any(|(name, size)| *name == key && size.is_some()))
    }
    let stated = |slot: usize, key: &str| match slot {
        0 => states(&candidates.cranks, key),
        1 => states(&candidates.rods, key),
        2 => states(&candidates.pistons, key),
        3 => states(&candidates.gaskets, key),
        4 => states(&candidates.heads, key),
        _ => states(&candidates.bearings, key),
    };
    let keys: [(&str, &[usize]); 4] = [
        ("cylinder_bore", &[2, 3, 4]),
        ("pin_diameter", &[1, 2]),
        ("rod_journal", &[0, 1, 5]),
        ("bearing_width", &[0, 1, 5]),
    ];
    let mut cautions = Vec::new();
    for (key, slots) in keys {
        let silent: Vec<_> = slots.iter().filter(|slot| !stated(**slot, key)).map(|slot| SLOTS[*slot]).collect();
        if silent.is_empty() {
            continue;
        }
        cautions.push(Caution {
            code: "key_not_checked",
            severity: Severity::Caution,
            about: About::Request,
            path: "catalogue".into(),
            detail: format!("{key} is not stated for {}: whether these match was not checked.", silent.join(", "))
                .into(),
            source: COMMON_PRACTICE,
        });
    }
    cautions
}
