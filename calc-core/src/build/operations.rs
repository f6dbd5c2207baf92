//! The machine operations that a measured block and a plan imply, as data that can be priced.

use validator::Validate;

use crate::caution::{COMMON_PRACTICE, Caution};
use crate::error::Error;
use crate::method::Method;
use crate::units::Length;

use super::measured_block::{MeasuredCylinder, OperationsInput, ROUNDING, Sleeve, extremes};
use super::operation_cautions::cautions;
use super::operation_rules::{Operation, SEQUENCE, SequenceRule};

/// How [`evaluate`] works.
pub const METHOD: Method = Method {
    id: "machine-operations",
    title: "Machine operations from a measured block and a plan",
    equation: "Stock = the difference between from and to, on the diameter of a bore, in depth on a face; from is the place with most \
         metal: the tightest bore, the highest reading of a deck, the smallest housing less the cap cut. Passes = stock/stock per \
         pass, rounded up. Bored size = finished bore - honing allowance. Wall left = thinnest wall - (bore - tightest \
         reading)/2. A cylinder that is larger than the plan, or whose wall would be thinner than the caller accepts, gets the \
         sleeve when one is given; the sleeve's housing = its outside diameter - interference.",
    valid_for: "Bores on their present centres. Sizes and deck heights as measured before the first operation: a line-hone moves the \
         crank axis, after which deck heights are measured again. The sequence rules are common practice.",
    sources: &["First principles (differences of sizes)", COMMON_PRACTICE],
};

/// The list and what is left.
#[derive(Debug, Clone, PartialEq)]
pub struct Operations {
    /// In the order in which they are done.
    pub operations: Vec<MachineOperation>,
    /// Walls after boring, for every cylinder whose wall was measured.
    pub walls: Vec<WallLeft>,
    /// What to look at twice.
    pub cautions: Vec<Caution>,
}

/// One line of the list.
#[derive(Debug, Clone, PartialEq)]
pub struct MachineOperation {
    /// Its place in the order, from 1.
    pub sequence: u32,
    /// What is done.
    pub operation: Operation,
    /// Which cylinders, banks or housings; empty for the end rails.
    pub numbers: Vec<u32>,
    /// How many times it is done.
    pub count: u32,
    /// Size or height at the place with most metal.
    pub from_size: Option<Length>,
    /// Size or height afterwards.
    pub to_size: Option<Length>,
    /// What comes off there: on the diameter of a bore, in depth on a face.
    pub stock: Option<Length>,
    /// How many passes each takes, when a limit is given.
    pub passes: Option<u32>,
    /// Whether a torque plate is bolted on.
    pub torque_plate: bool,
    /// What must be done before.
    pub constraints: Vec<Constraint>,
}

/// An earlier operation that this one needs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Constraint {
    /// The earlier one's place in the order.
    pub after: u32,
    /// Why.
    pub rule: SequenceRule,
}

/// The wall of one cylinder.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WallLeft {
    /// Which cylinder.
    pub cylinder: u32,
    /// Whether it gets the sleeve.
    pub sleeved: bool,
    /// Thinnest wall of the block itself after boring, for the sleeve where there is one.
    pub wall: Length,
}

/// The operations that a plan implies, in an order that keeps the sequence rules.
///
/// **Equation** Stock = |to - from|; passes = stock/limit rounded up; wall left = thinnest wall - (bore - tightest reading)/2.
///
/// **Shape** Lists of cylinders, banks, housings and heads.
///
/// **Units** Lengths.
///
/// **Valid for** Bores on their present centres; sizes as measured before the first operation.
///
/// **Errors** [`Error::Invalid`] with every field that is out of range and every rule that is broken: a bore below the largest
/// reading, a cut through a wall, a deck above its lowest reading, a housing without metal for the hone.
///
/// **Source** First principles; the sequence is common practice, no source.
pub fn evaluate(input: &OperationsInput) -> Result<Operations, Error> {
    input.validate()?;
    let mut list = List { input, operations: Vec::new() };
    list.housings();
    list.decks();
    list.cylinders();
    list.heads();
    let operations = in_sequence(list.operations);
    let walls = walls(input);
    let cautions = cautions(input, &operations, &walls);
    Ok(Operations { operations, walls, cautions })
}

/// The list while it grows.
struct List<'a> {
    input: &'a OperationsInput,
    operations: Vec<MachineOperation>,
}

impl List<'_> {
    /// Adds an operation, or one more number to an equal one; one that would take nothing off is none.
    fn add(&mut self, operation: Operation, number: Option<u32>, sizes: [Option<Length>; 2], stock: Option<f64>) {
        if stock.is_some_and(|stock| stock < ROUNDING) {
            return;
        }
        let [from_size, to_size] = sizes;
        let stock = stock.map(Length::from_metres);
        let wanted = [from_size, to_size, stock];
        let alike = |line: &&mut MachineOperation| {
            line.operation == operation && [line.from_size, line.to_size, line.stock].into_iter().zip(wanted).all(same)
        };
        let known = self.operations.iter_mut().find(alike);
        if let Some(line) = known {
            line.numbers.extend(number);
            line.count += 1;
            return;
        }
        let limit = self.input.plan.stock_per_pass.of(operation);
        self.operations.push(MachineOperation {
            sequence: 0,
            operation,
            numbers: number.into_iter().collect(),
            count: 1,
            from_size,
            to_size,
            stock,
            passes: limit.zip(stock).map(|(limit, stock)| passes(stock.metres(), limit.metres())),
            torque_plate: operation == Operation::HoneCylinder && self.input.plan.torque_plate,
            constraints: Vec::new(),
        });
    }

    /// Adds an operation that widens a bore.
    fn widen(&mut self, operation: Operation, number: u32, from: Length, to: Length) {
        self.add(operation, Some(number), [Some(from), Some(to)], Some(to.metres() - from.metres()));
    }

    /// Adds a flat cut of a depth.
    fn mill(&mut self, operation: Operation, number: Option<u32>, depth: Length) {
        self.add(operation, number, [None, None], Some(depth.metres()));
    }

    /// The hone runs through all housings at once, so the tightest decides for all.
    fn housings(&mut self) {
        let (housings, cap_cut) = (&self.input.measured.main_housings, self.input.plan.cap_cut);
        let Some(finished) = self.input.plan.main_housing_bore else { return };
        let bores: Vec<_> = housings.iter().map(|housing| housing.bore).collect();
        let (_, smallest) = extremes(&bores);
        let from = Length::from_metres(smallest.metres() - cap_cut.metres());
        for housing in housings {
            self.mill(Operation::CutMainCaps, Some(housing.number), cap_cut);
            self.widen(Operation::LineHone, housing.number, from, finished);
        }
    }

    fn decks(&mut self) {
        let Some(height) = self.input.plan.deck_height else { return };
        for bank in &self.input.measured.banks {
            let (highest, _) = extremes(&bank.deck_heights);
            let depth = highest.metres() - height.metres();
            self.add(Operation::DeckBlock, Some(bank.number), [Some(highest), Some(height)], Some(depth));
        }
    }

    fn cylinders(&mut self) {
        let plan = &self.input.plan;
        let (Some(finished), Some(allowance)) = (plan.bore, plan.honing_allowance) else { return };
        let bored = Length::from_metres(finished.metres() - allowance.metres());
        for cylinder in &self.input.measured.cylinders {
            let (number, mut from) = (cylinder.number, cylinder.tightest());
            if let Some(sleeve) = self.input.sleeve_for(cylinder, finished) {
                self.widen(Operation::BoreForSleeve, number, from, sleeve.housing());
                self.add(Operation::FitSleeve, Some(number), [None, None], None);
                from = sleeve.inside_diameter;
            }
            self.widen(Operation::BoreCylinder, number, from, bored);
            let from = if bored > from { bored } else { from };
            self.widen(Operation::HoneCylinder, number, from, finished);
        }
    }

    fn heads(&mut self) {
        let plan = &self.input.plan;
        for head in &plan.heads {
            self.mill(Operation::MillHead, Some(head.bank), head.head_cut);
            self.mill(Operation::MillIntakeSide, Some(head.bank), head.intake_side_cut);
        }
        for _front_and_rear in 0..2 {
            self.mill(Operation::MillEndRails, None, plan.end_rail_cut);
        }
    }
}

/// Whether two sizes are the same but for rounding.
fn same((one, other): (Option<Length>, Option<Length>)) -> bool {
    match (one, other) {
        (Some(one), Some(other)) => (one.metres() - other.metres()).abs() < ROUNDING,
        (one, other) => one == other,
    }
}

/// A stock that is a whole number of passes but for rounding is that number.
fn passes(stock: f64, limit: f64) -> u32 {
    ((stock / limit - 1e-6).ceil() as u32).max(1)
}

/// Puts the lines in the order of [`Operation`], numbers them, and ties them by the rules.
fn in_sequence(mut lines: Vec<MachineOperation>) -> Vec<MachineOperation> {
    lines.sort_by_key(|line| line.operation as u8);
    for (index, line) in (1..).zip(lines.iter_mut()) {
        line.sequence = index;
    }
    let order: Vec<_> = lines.iter().map(|line| (line.sequence, line.operation)).collect();
    for line in &mut lines {
        for rule in SEQUENCE.iter().filter(|rule| rule.then == line.operation) {
            let first = order.iter().filter(|(_, operation)| *operation == rule.first);
            line.constraints.extend(first.map(|(after, _)| Constraint { after: *after, rule: *rule }));
        }
    }
    lines
}

fn walls(input: &OperationsInput) -> Vec<WallLeft> {
    let Some(finished) = input.plan.bore else { return Vec::new() };
    let wall = |cylinder: &MeasuredCylinder| {
        let sleeve = input.sleeve_for(cylinder, finished);
        let bore = sleeve.map_or(finished, Sleeve::housing);
        let wall = cylinder.wall_left(bore)?;
        Some(WallLeft { cylinder: cylinder.number, sleeved: sleeve.is_some(), wall })
    };
    input.measured.cylinders.iter().filter_map(wall).collect()
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::build::measured_block::{MeasuredBank, MeasuredBlock, MeasuredHousing, Plan, PlannedHead, StockPerPass};

    fn block(bores: &[f64], heights: &[f64], housing: f64) -> OperationsInput {
        let inches = Length::from_inches;
        let cylinder = |(number, bore): (u32, &f64)| MeasuredCylinder {
            number,
            largest_bore: inches(*bore),
            smallest_bore: Some(inches(bore - 0.004)),
            thinnest_wall: Some(inches(0.1 + f64::from(number) / 100.0)),
        };
        OperationsInput {
            measured: MeasuredBlock {
                cylinders: (1..).zip(bores).map(cylinder).collect(),
                banks: vec![MeasuredBank {
                    number: 1,
                    deck_heights: heights.iter().map(|height| inches(*height)).collect(),
                }],
                main_housings: vec![MeasuredHousing { number: 1, bore: inches(housing) }],
            },
            plan: Plan {
                bore: Some(inches(4.04)),
                honing_allowance: Some(inches(0.005)),
                torque_plate: true,
                least_wall: Some(inches(0.1)),
                sleeve: Some(Sleeve {
                    outside_diameter: inches(4.25),
                    inside_diameter: inches(3.97),
                    interference: inches(0.003),
                }),
                deck_height: Some(inches(9.0)),
                main_housing_bore: Some(inches(2.75)),
                cap_cut: inches(0.004),
                heads: vec![PlannedHead { bank: 1, head_cut: inches(0.01), intake_side_cut: inches(0.012) }],
                end_rail_cut: inches(0.017),
                stock_per_pass: StockPerPass { boring: Some(inches(0.012)), milling: Some(inches(0.004)) },
            },
        }
    }

    proptest! {
        #[test]
        fn every_line_follows_what_it_needs_and_its_passes_take_its_stock(
            bores in prop::collection::vec(3.99..4.06, 1..12), heights in prop::collection::vec(9.0..9.02, 1..9),
            housing in 2.745..2.753,
        ) {
            let input = block(&bores, &heights, housing);
            let found = evaluate(&input)?;
            for (index, line) in (1..).zip(&found.operations) {
                prop_assert_eq!(line.sequence, index);
                prop_assert!(line.constraints.iter().all(|constraint| constraint.after < line.sequence));
                let (stock, limit) = (line.stock.unwrap_or_default(), input.plan.stock_per_pass.of(line.operation));
                if let (Some(passes), Some(limit)) = (line.passes, limit) {
                    prop_assert!(f64::from(passes) * limit.metres() >= stock.metres() - 1e-6 * limit.metres());
                    prop_assert!(f64::from(passes - 1) * limit.metres() < stock.metres());
                }
            }
        }

        #[test]
        fn each_cylinder_is_brought_from_its_tightest_place_to_the_finished_bore(
            bores in prop::collection::vec(3.99..4.06, 1..12),
        ) {
            let input = block(&bores, &[9.0], 2.75);
            let found = evaluate(&input)?;
            for cylinder in &input.measured.cylinders {
                let sleeved = found.walls.iter().any(|left| left.cylinder == cylinder.number && left.sleeved);
                let from = if sleeved { Length::from_inches(3.97) } else { cylinder.tightest() };
                let to_size = |line: &&MachineOperation| {
                    let bores = matches!(line.operation, Operation::BoreCylinder | Operation::HoneCylinder);
                    bores && line.numbers.contains(&cylinder.number)
                };
                let taken: f64 = found.operations.iter().filter(to_size).filter_map(|line| line.stock).map(Length::metres).sum();
                // Sizes within the rounding stand on one line, for each of them at both of its ends.
                prop_assert!((taken - (0.0254 * 4.04 - from.metres())).abs() < 2.0 * ROUNDING);
            }
        }
    }

    #[test]
    fn a_block_at_its_planned_sizes_needs_nothing() {
        let mut input = block(&[4.044], &[9.0], 2.754);
        input.plan.heads.clear();
        input.plan.end_rail_cut = Length::default();
        input.plan.bore = None;
        input.plan.cap_cut = Length::default();
        input.plan.main_housing_bore = None;
        assert_eq!(evaluate(&input).map(|found| found.operations), Ok(vec![]));
    }
}
