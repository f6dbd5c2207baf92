//! What the tolerances of the parts make of the ratio and of the squish clearance.

use validator::{Validate, ValidationError};

use crate::caution::{Caution, STANDING};
use crate::error::{Error, all_faults, broken_rule};
use crate::geometry::deck_stack::squish_caution;
use crate::limit;
use crate::method::Method;
use crate::units::{Area, Length, Quantity, Ratio, Volume};

use super::r#static::{StaticInput, gasket_overhang, ratio_caution};
use super::tolerance_draws::{
    Toleranced, draw, limits, nothing_left, outcome, results, share_within, within, worst_case,
};
use super::tolerance_items::{ITEMS, Item};

/// How [`evaluate`] works.
pub const METHOD: Method = Method {
    id: "compression-tolerance",
    title: "Tolerance of ratio and squish clearance: first order, worst case and Monte Carlo",
    equation: "First order: u^2(y) = sum of (dy/dx_i)^2 u^2(x_i), share = its term over the sum. u = tolerance/sqrt(3) when every size \
         inside it is equally likely, tolerance/2 when it is two standard deviations of a normal distribution. Worst case: the \
         extremes over all combinations of both ends, exact because ratio and squish are monotone in each part. Monte Carlo: \
         parts drawn independently; mean, standard deviation, the probabilistically symmetric 95 percent interval, and the share \
         of draws inside the limits.",
    valid_for: "Independent parts. First order only for tolerances that are small beside the part. A normal distribution has tails \
         beyond the tolerance, which the worst case does not contain. A chance from M draws is uncertain by sqrt(p (1 - p)/M).",
    sources: &[
        "JCGM 100:2008, Guide to the expression of uncertainty in measurement, equation 10 and section 4.3.7",
        "JCGM 101:2008, Propagation of distributions using a Monte Carlo method, sections 7.6 and 7.7",
        "G. L. Steele, D. Lea and C. H. Flood, Fast splittable pseudorandom number generators, OOPSLA 2014 (SplitMix64)",
    ],
};

/// Draws when none are asked for.
pub const USUAL_DRAWS: u32 = 100_000;
/// Seed when none is given.
pub const USUAL_SEED: u32 = 1;

/// How a part lies inside its tolerance.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Distribution {
    /// Every size inside the tolerance is equally likely, none outside is possible.
    Rectangular,
    /// Normal, the tolerance being two standard deviations.
    Normal,
}

/// The parts, their tolerances and what is wanted.
#[derive(Debug, Clone, PartialEq, Validate)]
pub struct ToleranceInput {
    /// The parts as planned.
    #[validate(nested)]
    pub nominal: StaticInput,
    /// How far each may be off, either way.
    #[validate(nested)]
    pub tolerances: Tolerances,
    /// How the parts lie inside.
    pub distribution: Distribution,
    /// What ratio and squish must keep.
    #[validate(nested)]
    pub limits: Limits,
    /// How many random engines.
    #[validate(custom(function = "limit::draws"))]
    pub draws: u32,
    /// Start of the random numbers.
    pub seed: u32,
}

/// How far each part may be off, either way; exact when absent.
#[derive(Debug, Clone, PartialEq, Default, Validate)]
pub struct Tolerances {
    /// Of the bore.
    #[validate(custom(function = "limit::length_tolerance"))]
    pub bore: Option<Length>,
    /// Of the stroke.
    #[validate(custom(function = "limit::length_tolerance"))]
    pub stroke: Option<Length>,
    /// Of the chamber.
    #[validate(custom(function = "limit::volume_tolerance"))]
    pub chamber_volume: Option<Volume>,
    /// Of the gasket's opening.
    #[validate(custom(function = "limit::length_tolerance"))]
    pub gasket_bore: Option<Length>,
    /// Of the opening's area.
    #[validate(custom(function = "limit::area_tolerance"))]
    pub gasket_area: Option<Area>,
    /// Of the compressed thickness.
    #[validate(custom(function = "limit::length_tolerance"))]
    pub gasket_thickness: Option<Length>,
    /// Of the deck clearance.
    #[validate(custom(function = "limit::length_tolerance"))]
    pub deck_clearance: Option<Length>,
    /// Of the dish.
    #[validate(custom(function = "limit::volume_tolerance"))]
    pub dish_volume: Option<Volume>,
    /// Of the dome.
    #[validate(custom(function = "limit::volume_tolerance"))]
    pub dome_volume: Option<Volume>,
    /// Of the top land's height.
    #[validate(custom(function = "limit::length_tolerance"))]
    pub top_land_height: Option<Length>,
    /// Of the top land's diameter.
    #[validate(custom(function = "limit::length_tolerance"))]
    pub top_land_diameter: Option<Length>,
}

/// What ratio and squish clearance must keep.
#[derive(Debug, Clone, PartialEq, Default, Validate)]
pub struct Limits {
    /// Smallest ratio.
    #[validate(custom(function = "limit::compression_ratio"))]
    pub ratio_min: Option<Ratio>,
    /// Largest ratio.
    #[validate(custom(function = "limit::compression_ratio"))]
    pub ratio_max: Option<Ratio>,
    /// Smallest squish clearance.
    #[validate(custom(function = "limit::squish_limit"))]
    pub squish_min: Option<Length>,
    /// Largest squish clearance.
    #[validate(custom(function = "limit::squish_limit"))]
    pub squish_max: Option<Length>,
}

/// Ratio and squish clearance with their tolerances.
#[derive(Debug, Clone, PartialEq)]
pub struct Tolerance {
    /// The static ratio.
    pub ratio: Outcome<Ratio>,
    /// The squish clearance.
    pub squish: Outcome<Length>,
    /// What each part contributes, in the order of [`ITEMS`].
    pub shares: Vec<Share>,
    /// Share of the draws that keep every limit; none when no limit is given.
    pub chance_within_all: Option<f64>,
    /// What to look at twice.
    pub cautions: Vec<Caution>,
}

/// One result with its tolerance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Outcome<Q> {
    /// With all parts as planned.
    pub nominal: Q,
    /// Standard uncertainty to first order.
    pub standard_uncertainty: Q,
    /// The least that the tolerances allow.
    pub worst_low: Q,
    /// The most that they allow.
    pub worst_high: Q,
    /// Mean of the draws.
    pub mean: Q,
    /// Standard deviation of the draws.
    pub standard_deviation: Q,
    /// 2.5 percent of the draws are below.
    pub interval_low: Q,
    /// 2.5 percent of the draws are above.
    pub interval_high: Q,
    /// Share of the draws inside this result's limits; none when it has no limit.
    pub chance_within: Option<f64>,
}

/// What one part contributes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Share {
    /// The part.
    pub item: Item,
    /// Its contribution to the ratio's standard uncertainty.
    pub ratio_uncertainty: Ratio,
    /// Its share of the ratio's variance.
    pub ratio_share: f64,
    /// Its share of the squish clearance's variance.
    pub squish_share: f64,
}

/// Tolerance of ratio and squish clearance.
///
/// **Equation** u^2(y) = sum (dy/dx_i)^2 u^2(x_i); extremes over both ends of all parts; Monte Carlo
///
/// **Shape** Scalars, one cylinder; 1,000 to 200,000 draws.
///
/// **Units** Lengths, areas, volumes and ratios, any.
///
/// **Valid for** Independent parts; equal seeds give equal draws.
///
/// **Errors** [`Error::Invalid`] when a tolerance is negative, belongs to no part, is larger than its part, all of them are
/// zero, or the limits are the wrong way round; [`Error::NoSolution`] when the tolerances leave no clearance volume.
///
/// **Source** JCGM 100:2008 equation 10; JCGM 101:2008 sections 7.6 and 7.7.
pub fn evaluate(input: &ToleranceInput) -> Result<Tolerance, Error> {
    all_faults(input.validate(), rules(input))?;
    let parts = toleranced(input);
    let nominal = results(&input.nominal).ok_or_else(nothing_left)?;
    let worst = worst_case(&input.nominal, &parts)?;
    let (shares, uncertainty) = first_order(input, &parts);
    let draws = draw(input, &parts)?;
    let limits = limits(&input.limits);
    let [ratio, squish] = [0, 1].map(|which| {
        let mut values: Vec<f64> = draws.iter().map(|draw| draw[which]).collect();
        let chance_within =
            limits[which].map(|limit| share_within(draws.iter().map(|draw| within(draw[which], limit))));
        Outcome { chance_within, ..outcome(nominal[which], uncertainty[which], worst[which], &mut values) }
    });
    let kept =
        |draw: &[f64; 2]| [0, 1].iter().all(|which| limits[*which].is_none_or(|limit| within(draw[*which], limit)));
    let any = limits.iter().any(Option::is_some);
    let chance_within_all = any.then(|| share_within(draws.iter().map(kept)));
    let (ratio, squish) = (ratio.of::<Ratio>(), squish.of::<Length>());
    let cautions = cautions(input, &ratio, &squish);
    Ok(Tolerance { ratio, squish, shares, chance_within_all, cautions })
}

impl Outcome<f64> {
    fn of<Q: Quantity>(self) -> Outcome<Q> {
        Outcome {
            nominal: Q::from_si(self.nominal),
            standard_uncertainty: Q::from_si(self.standard_uncertainty),
            worst_low: Q::from_si(self.worst_low),
            worst_high: Q::from_si(self.worst_high),
            mean: Q::from_si(self.mean),
            standard_deviation: Q::from_si(self.standard_deviation),
            interval_low: Q::from_si(self.interval_low),
            interval_high: Q::from_si(self.interval_high),
            chance_within: self.chance_within,
        }
    }
}

/// Every broken rule at once.
fn rules(input: &ToleranceInput) -> Vec<ValidationError> {
    let mut broken = Vec::new();
    let mut any = false;
    for item in ITEMS {
        let Some(tolerance) = item.tolerance(&input.tolerances) else { continue };
        any |= tolerance > 0.0;
        match item.size(&input.nominal) {
            None => broken.push(broken_rule(item.path(), "contradiction", NO_PART.to_owned())),
            Some(size) if item != Item::DeckClearance && tolerance > size => {
                broken.push(broken_rule(item.path(), "contradiction", TOO_LARGE.to_owned()));
            }
            Some(_) => {}
        }
    }
    if !any {
        broken.push(broken_rule("tolerances", "missing", NO_TOLERANCE.to_owned()));
    }
    let limits = &input.limits;
    if limits.ratio_min.zip(limits.ratio_max).is_some_and(|(min, max)| min >= max) {
        broken.push(broken_rule("limits/ratio_max", "contradiction", WRONG_WAY.to_owned()));
    }
    if limits.squish_min.zip(limits.squish_max).is_some_and(|(min, max)| min >= max) {
        broken.push(broken_rule("limits/squish_max", "contradiction", WRONG_WAY.to_owned()));
    }
    broken
}

const NO_PART: &str = "belongs to a part that is not given in nominal.";
const TOO_LARGE: &str = "is larger than the part itself, which cannot become negative.";
const NO_TOLERANCE: &str = "must hold at least one tolerance above zero.";
const WRONG_WAY: &str = "must be above the smallest value.";

fn toleranced(input: &ToleranceInput) -> Vec<Toleranced> {
    let one = |item: Item| {
        let (size, tolerance) = item.size(&input.nominal).zip(item.tolerance(&input.tolerances))?;
        (tolerance > 0.0).then_some(Toleranced { item, size, tolerance })
    };
    ITEMS.into_iter().filter_map(one).collect()
}

/// The parts' shares, and the standard uncertainties of ratio and squish.
fn first_order(input: &ToleranceInput, parts: &[Toleranced]) -> (Vec<Share>, [f64; 2]) {
    let contribution = |part: &Toleranced| {
        let uncertainty = input.distribution.standard_uncertainty(part.tolerance);
        part.item.slopes(&input.nominal).map(|slope| (slope * uncertainty).abs())
    };
    let contributions: Vec<_> = parts.iter().map(contribution).collect();
    let total = |which: usize| contributions.iter().map(|each| each[which] * each[which]).sum::<f64>();
    let variances = [total(0), total(1)];
    let share = |value: f64, variance: f64| if variance > 0.0 { value * value / variance } else { 0.0 };
    let shares = parts.iter().zip(&contributions).map(|(part, [ratio, squish])| Share {
        item: part.item,
        ratio_uncertainty: Ratio::from_plain(*ratio),
        ratio_share: share(*ratio, variances[0]),
        squish_share: share(*squish, variances[1]),
    });
    (shares.collect(), variances.map(f64::sqrt))
}

fn cautions(input: &ToleranceInput, ratio: &Outcome<Ratio>, squish: &Outcome<Length>) -> Vec<Caution> {
    let mut cautions = Vec::new();
    cautions.extend(gasket_overhang("nominal/gasket_bore", input.nominal.bore, input.nominal.gasket_bore));
    cautions.extend(squish_caution("squish/worst_low", squish.worst_low));
    cautions.extend(ratio_caution("ratio/nominal", ratio.nominal.plain()));
    cautions.push(STANDING);
    cautions
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::super::r#static::tests::sound;
    use super::super::r#static::volumes;
    use super::*;

    fn input(nominal: StaticInput, distribution: Distribution) -> ToleranceInput {
        let half = |length: f64| Some(Length::from_inches(length));
        ToleranceInput {
            nominal: StaticInput { gasket_thickness: Length::from_inches(0.04), ..nominal },
            tolerances: Tolerances {
                bore: half(0.0005),
                stroke: half(0.002),
                chamber_volume: Some(Volume::from_cubic_centimetres(0.5)),
                gasket_thickness: half(0.002),
                deck_clearance: half(0.003),
                ..Tolerances::default()
            },
            distribution,
            limits: Limits::default(),
            draws: 4000,
            seed: 5,
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig { cases: 24, ..ProptestConfig::default() })]

        #[test]
        fn the_three_ways_agree_for_small_tolerances(nominal in sound(), normal in any::<bool>()) {
            let distribution = if normal { Distribution::Normal } else { Distribution::Rectangular };
            let input = input(nominal, distribution);
            prop_assume!(volumes(&input.nominal).clearance().cubic_centimetres() > 30.0);
            let found = evaluate(&input)?;
            let shares: f64 = found.shares.iter().map(|share| share.ratio_share).sum();
            prop_assert!((shares - 1.0).abs() < 1e-12);
            for outcome in [found.ratio.plain_values(), found.squish.plain_values()] {
                let [nominal, uncertainty, low, high, mean, deviation, from, to] = outcome;
                prop_assert!(low < nominal && nominal < high);
                prop_assert!((deviation / uncertainty - 1.0).abs() < 0.06);
                prop_assert!((mean - nominal).abs() < 0.1 * uncertainty);
                prop_assert!(from < mean && mean < to);
                prop_assert!(normal || (low <= from && to <= high));
            }
        }

        #[test]
        fn equal_seeds_give_equal_answers_and_limits_count_the_draws(nominal in sound()) {
            let mut input = input(nominal, Distribution::Rectangular);
            prop_assume!(volumes(&input.nominal).clearance().cubic_centimetres() > 30.0);
            let first = evaluate(&input)?;
            input.limits.ratio_min = Some(first.ratio.interval_low);
            input.limits.ratio_max = Some(first.ratio.interval_high);
            // Limits outside the range of ratios would be refused.
            prop_assume!(first.ratio.interval_low.plain() > 1.01 && first.ratio.interval_high.plain() < 40.0);
            let second = evaluate(&input)?;
            prop_assert_eq!(first.ratio.mean, second.ratio.mean);
            prop_assert!(second.ratio.chance_within.is_some_and(|chance| (chance - 0.95).abs() < 0.001));
            prop_assert_eq!(second.chance_within_all, second.ratio.chance_within);
        }
    }

    impl<Q: Quantity> Outcome<Q> {
        fn plain_values(&self) -> [f64; 8] {
            [
                self.nominal,
                self.standard_uncertainty,
                self.worst_low,
                self.worst_high,
                self.mean,
                self.standard_deviation,
                self.interval_low,
                self.interval_high,
            ]
            .map(Q::si)
        }
    }
}
