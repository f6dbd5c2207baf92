//! Why a result of a build is what it is: its equation with the numbers put in, and how much each input moves it.

use crate::error::Error;
use crate::method::{self, Method};

use super::equations::{EQUATIONS, Equation, Meaning};
use super::evaluate::Evaluation;
use super::every_place::{Place, of_cylinder, reading, results};
use super::place::{Input, Output};
use super::sensitivity::{Dependence, Sensitivity, sensitivities};
use super::sheet::Build;

/// One result explained.
#[derive(Debug, Clone)]
pub struct Explanation {
    /// The result.
    pub result: Place,
    /// Its value in SI units.
    pub value: f64,
    /// The right-hand side in symbols, and the right-hand sides of its named parts after it.
    pub equation: String,
    /// What the symbols mean, in the order of their first use.
    pub symbols: Vec<Symbol>,
    /// The right-hand side with every symbol replaced, parts and all.
    pub put_in: Vec<Piece>,
    /// The inputs that it depends on, in the order of the sheet.
    pub inputs: Vec<Sensitivity>,
    /// The method, whose sources are the equation's.
    pub method: &'static Method,
}

/// A symbol of an equation.
#[derive(Debug, Clone)]
pub struct Symbol {
    /// How it is written.
    pub name: &'static str,
    /// What it is.
    pub value: Value,
}

/// A piece of an equation with the numbers put in.
#[derive(Debug, Clone)]
pub enum Piece {
    /// Signs, functions and plain numbers.
    Text(&'static str),
    /// What stands in the place of a symbol.
    Number(Value),
}

/// What a symbol is.
#[derive(Debug, Clone)]
pub enum Value {
    /// An input or another result, in SI units.
    At(Place, f64),
    /// A constant with its unit.
    Constant(&'static str),
    /// A number found on the way, in the unit beside it; a plain number has an empty one.
    Found(f64, &'static str),
}

/// Every result of a build with its equation, the numbers put in, and its sensitivities.
///
/// **Equation** Those of the results themselves; a sensitivity is the slope of the result over the input, all other inputs
/// held.
///
/// **Shape** One explanation for each result that the build has, those of single cylinders last.
///
/// **Units** Values and slopes in SI units.
///
/// **Valid for** A build that evaluates, with its own evaluation. A temperature or an angle that is found by iteration stands on
/// both sides of its equation.
///
/// **Errors** [`Error::NotConverged`] when a result has no equation in the table: a fault of ours.
///
/// **Source** Those of the methods named.
pub fn explain(build: &Build, evaluation: &Evaluation) -> Result<Vec<Explanation>, Error> {
    let explained = sensitivities(build, evaluation).into_iter().map(|Dependence { result, value, inputs }| {
        let missing = || Error::NotConverged { what: "the equation of a result", residual: value };
        let (equation, symbols) = used(&result, build, evaluation).ok_or_else(missing)?;
        let mut put_in = Vec::new();
        put(equation, &symbols, equation.text, &mut put_in).ok_or_else(missing)?;
        let method = method::ALL.iter().find(|method| method.id == equation.method).ok_or_else(missing)?;
        Ok(Explanation { result, value, equation: in_symbols(equation), symbols, put_in, inputs, method })
    });
    explained.collect()
}

/// The equation that a result was found by, and its symbols.
fn used(result: &Place, build: &Build, evaluation: &Evaluation) -> Option<(&'static Equation, Vec<Symbol>)> {
    let candidates = EQUATIONS.iter().filter(|equation| is_of(equation.result, result.path()));
    let mut fitting = candidates.filter(|equation| (equation.used_when)(build, evaluation));
    fitting.find_map(|equation| {
        let symbols = equation.symbols.iter().map(|(name, meaning)| {
            let value = value(*meaning, result, build, evaluation)?;
            Some(Symbol { name, value })
        });
        Some((equation, symbols.collect::<Option<Vec<_>>>()?))
    })
}

/// Whether a path is that of an equation, whose star is any one name.
fn is_of(equation: &str, path: &str) -> bool {
    let (mut wanted, mut found) = (equation.split('/'), path.split('/'));
    equation == path
        || (wanted.clone().count() == found.clone().count()
            && wanted.all(|name| {
                let other = found.next();
                name == "*" || Some(name) == other
            }))
}

fn value(meaning: Meaning, result: &Place, build: &Build, evaluation: &Evaluation) -> Option<Value> {
    let cylinder = || if let Place::Cylinder { cylinder, .. } = result { Some(*cylinder) } else { None };
    match meaning {
        Meaning::Input(path) => {
            let place = Input::at(path)?;
            Some(Value::At(Place::Input(place), place.get(build)?))
        }
        Meaning::Output(path) => {
            let place = Output::at(path)?;
            Some(Value::At(Place::Output(place), place.get(evaluation)?))
        }
        Meaning::OfCylinder(name) => {
            let cylinder = cylinder()?;
            let path = of_cylinder(cylinder, name);
            let all = results(evaluation, cylinder + 1);
            let (place, value) = all.into_iter().find(|(place, _)| place.path() == path)?;
            Some(Value::At(place, value?))
        }
        Meaning::Reading(list, like) => {
            let (cylinder, place) = (cylinder()?, Input::at(like)?);
            Some(match reading(build, list, cylinder) {
                Some(value) => {
                    Value::At(Place::Reading { path: format!("{list}/{cylinder}"), like: place, cylinder }, value)
                }
                None => Value::At(Place::Input(place), place.get(build)?),
            })
        }
        Meaning::Constant(text) => Some(Value::Constant(text)),
        Meaning::Found(find, unit) => Some(Value::Found(find(build, evaluation)?, unit)),
    }
}

fn in_symbols(equation: &Equation) -> String {
    let parts = equation.parts.iter().map(|(name, text)| format!("; {name} = {text}"));
    std::iter::once(equation.text.to_owned()).chain(parts).collect()
}

/// Appends the pieces of a right-hand side; none when a word in it is neither symbol nor part nor function.
fn put(equation: &Equation, symbols: &[Symbol], text: &'static str, pieces: &mut Vec<Piece>) -> Option<()> {
    const KNOWN: [&str; 11] = ["pi", "sqrt", "sin", "cos", "asin", "acos", "exp", "ln", "min", "max", "abs"];
    for word in words(text) {
        let begins = word.chars().next().is_some_and(|first| first.is_ascii_alphabetic());
        if !begins || KNOWN.contains(&word) {
            pieces.push(Piece::Text(word));
        } else if let Some((_, part)) = equation.parts.iter().find(|(name, _)| *name == word) {
            pieces.push(Piece::Text("("));
            put(equation, symbols, part, pieces)?;
            pieces.push(Piece::Text(")"));
        } else {
            pieces.push(Piece::Number(symbols.iter().find(|symbol| symbol.name == word)?.value.clone()));
        }
    }
    Some(())
}

/// A right-hand side cut into names and what stands between them.
fn words(text: &'static str) -> impl Iterator<Item = &'static str> {
    let mut rest = text;
    std::iter::from_fn(move || {
        let first = rest.chars().next()?;
        let of_name = |letter: char| letter.is_ascii_alphanumeric() || letter == '_';
        let end = if first.is_ascii_alphabetic() {
            rest.find(|letter| !of_name(letter))
        } else {
            rest.find(|letter: char| letter.is_ascii_alphabetic())
        };
        let (word, after) = rest.split_at(end.unwrap_or(rest.len()));
        rest = after;
        Some(word)
    })
}

#[cfg(test)]
mod tests {
    use super::super::evaluate::evaluate;
    use super::super::tests::demo;
    use super::*;

    #[test]
    fn every_result_has_an_equation_and_every_equation_a_result() -> Result<(), Error> {
        let all = results(&evaluate(&demo())?, 8);
        for (result, _) in &all {
            assert!(
                EQUATIONS.iter().any(|equation| is_of(equation.result, result.path())),
                "{} has none: give it one in equations.rs",
                result.path()
            );
        }
        for equation in EQUATIONS {
            assert!(all.iter().any(|(result, _)| is_of(equation.result, result.path())), "{}", equation.result);
            assert!(method::ALL.iter().any(|method| method.id == equation.method), "{}", equation.method);
        }
        Ok(())
    }

    #[test]
    fn every_symbol_leads_somewhere_and_is_used() {
        for equation in EQUATIONS {
            let all: String = in_symbols(equation);
            for (name, meaning) in equation.symbols {
                let used = |text: &'static str| words(text).any(|word| word == *name);
                let in_parts = equation.parts.iter().any(|(_, text)| used(text));
                assert!(used(equation.text) || in_parts, "{} has no {name}: {all}", equation.result);
                match meaning {
                    Meaning::Input(path) => assert!(Input::at(path).is_some(), "{path}"),
                    Meaning::Output(path) => assert!(Output::at(path).is_some(), "{path}"),
                    Meaning::Reading(_, path) => assert!(Input::at(path).is_some(), "{path}"),
                    Meaning::Constant(text) => assert!(!text.is_empty()),
                    Meaning::OfCylinder(_) | Meaning::Found(..) => {}
                }
            }
            let symbols: Vec<_> =
                equation.symbols.iter().map(|(name, _)| Symbol { name, value: Value::Constant("1") }).collect();
            assert!(put(equation, &symbols, equation.text, &mut Vec::new()).is_some(), "{}: {all}", equation.result);
        }
    }

    #[test]
    fn a_whole_build_is_explained() -> Result<(), Error> {
        let build = demo();
        let explained = explain(&build, &evaluate(&build)?)?;
        assert_eq!(explained.len(), results(&evaluate(&build)?, 8).len());
        assert!(explained.iter().all(|one| !one.inputs.is_empty()));
        Ok(())
    }
}
