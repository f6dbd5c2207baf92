//! `POST …/table`: a CSV table in (RFC 4180), the same rows and columns out, with the results in further columns.
//!
//! The header's names are those of a query, each optionally with the unit of its column: `bore [mm]`. What stands in the
//! address's own query counts for every row: `?units=inch`. With `dec=comma` fields are separated by semicolons and numbers
//! have a decimal comma, both ways. A wrong row gets its fault in the last column, `error`, and the others go on.
//!
//! The header is resolved once (`header.rs`); then blocks of rows are answered independently, on all cores: a row is read
//! as the request (`direct.rs`, and `request.rs` when something is wrong with it), and the answer is written into its cells (`cells.rs`).

pub(crate) mod cells;
pub(crate) mod direct;
pub(crate) mod header;
pub(crate) mod http;
mod record;
mod request;
mod text;

use std::io::{self, Read, Write};

use calc_core::stop::Stop;
use cells::Cells;
use direct::Row;
use header::Header;
pub(crate) use header::{check_unit, split_title};
use record::{Record, Records};
use text::{echo, write_cell};

use super::body::ENOUGH;
use super::cut::{Cutter, LONGEST_LINE, Rows};
use super::in_order::in_order;
use super::stream::next_block;
use crate::calculation::Entry;
use crate::memory::Held;
use crate::problem::{self, Problem};
use crate::shape::fault;
use crate::{query, value};

/// What the address's query says besides the request's own fields.
pub(crate) struct Controls {
    decimal_comma: bool,
    constants: Vec<(String, String)>,
}

impl Controls {
    fn read(query: &str) -> Result<Self, Problem> {
        let mut constants = query::pairs(query);
        take(&mut constants, "errors", "inline")?;
        let decimal_comma = take(&mut constants, "dec", "comma")?;
        Ok(Self { decimal_comma, constants })
    }

    fn delimiter(&self) -> u8 {
        if self.decimal_comma { b';' } else { b',' }
    }

    fn cutter(&self) -> Cutter<Rows> {
        Cutter::new(Rows::new(self.delimiter()))
    }
}

/// Takes a control out of the pairs; it has one possible value.
fn take(pairs: &mut Vec<(String, String)>, name: &str, only: &str) -> Result<bool, Problem> {
    let Some(place) = pairs.iter().position(|(key, _)| key == name) else { return Ok(false) };
    let (_, text) = pairs.remove(place);
    if text == only {
        return Ok(true);
    }
    let detail = format!("must be {only}, or be left out.");
    Err(Problem::invalid(vec![fault(&format!("#/{name}"), "unknown_choice", detail)]).in_query())
}

/// The refusal of a whole table; `errors=inline` in the query turns it into a table of one cell.
fn refused(query: &str, problem: Problem) -> Result<Vec<u8>, Problem> {
    let inline = query::pairs(query).iter().any(|(name, text)| name == "errors" && text == "inline");
    if inline && problem.kind().status < 500 {
        return Ok(format!("error\r\n{}\r\n", value::inline(&problem)).into_bytes());
    }
    Err(problem)
}

/// A table whose header has been read.
struct Table {
    entry: &'static Entry,
    controls: Controls,
    header: Header,
}

impl Table {
    /// Reads the header in front of some rows; gives that of the answer too, and where the rows begin.
    fn open(entry: &'static Entry, controls: Controls, text: &[u8]) -> Result<(Self, Vec<u8>, usize), Problem> {
        let mark = if text.starts_with(b"\xef\xbb\xbf") { 3 } else { 0 };
        let mut records = Records::new(controls.delimiter(), &text[mark..]);
        let mut out = Vec::new();
        let header = match records.next() {
            Some(Ok(row)) if row.size > LONGEST_LINE => {
                let detail = format!("The header of a table may have at most {LONGEST_LINE} bytes.");
                return Err(Problem::new(problem::BODY_TOO_LARGE, detail));
            }
            Some(Ok(row)) => header::read(entry, &controls, &row, &mut out)?,
            Some(Err(error)) => return Err(malformed(format!("This is not CSV in UTF-8: {error}."))),
            None => return Err(malformed("The table has no header: its first row names the columns.")),
        };
        let end = mark + records.position;
        Ok((Self { entry, controls, header }, out, end))
    }

    /// The answer to whole rows, up to what is enough for once; and how many bytes of them are answered.
    fn rows(&self, text: &[u8], enough: usize, stop: &Stop) -> (Vec<u8>, usize) {
        // A build sheet's answer is five times as long as its row.
        let mut out = Vec::with_capacity(6 * text.len().min(enough));
        let mut records = Records::new(self.controls.delimiter(), text);
        let mut codes = String::new();
        while let Some(row) = records.next() {
            if stop.check().is_err() {
                break;
            }
            match row {
                Ok(row) if row.size > LONGEST_LINE => {
                    self.wrong_row(&mut out, &wrong("too_long", format!("has more than {LONGEST_LINE} bytes.")))
                }
                Ok(row) => self.row(&row, &mut codes, &mut out, stop),
                Err(_) => self.wrong_row(&mut out, &wrong("not_text", "is not text in UTF-8.".to_owned())),
            }
            if out.len() > enough {
                return (out, records.position);
            }
        }
        (out, text.len())
    }

    fn row(&self, row: &Record, codes: &mut String, out: &mut Vec<u8>, stop: &Stop) {
        echo(out, row, self.header.width, self.controls.delimiter());
        let end_of_echo = out.len();
        if let Err(problem) = self.results(row, codes, out, stop) {
            out.truncate(end_of_echo);
            self.fault(out, &problem);
        }
        out.extend_from_slice(b"\r\n");
    }

    /// Appends the result cells, the codes and an empty cell for the fault.
    fn results(&self, row: &Record, codes: &mut String, out: &mut Vec<u8>, stop: &Stop) -> Result<(), Problem> {
        if row.len() > self.header.width {
            let detail = format!("has {} cells; the header has {}.", row.len(), self.header.width);
            return Err(wrong("wrong_length", detail));
        }
        let delimiter = self.controls.delimiter();
        codes.clear();
        let row = Row { nodes: &self.header.request, controls: &self.controls, cells: row };
        let decimal_comma = self.controls.decimal_comma;
        let mut cells = Cells { out, codes: &mut *codes, delimiter, decimal_comma, written: 0 };
        self.entry.answer_row(row, &self.header.results, &mut cells, stop).map_err(Problem::in_query)?;
        cells.fill(self.header.results.count);
        out.push(delimiter);
        write_cell(out, codes, delimiter);
        out.push(delimiter);
        Ok(())
    }

    /// Appends empty cells for results and codes, and what is wrong.
    fn fault(&self, out: &mut Vec<u8>, problem: &Problem) {
        let delimiter = self.controls.delimiter();
        out.resize(out.len() + self.header.results.count + 2, delimiter);
        write_cell(out, &value::inline(problem), delimiter);
    }

    /// A row whose own cells cannot be given back.
    fn wrong_row(&self, out: &mut Vec<u8>, problem: &Problem) {
        out.resize(out.len() + self.header.width.saturating_sub(1), self.controls.delimiter());
        self.fault(out, problem);
        out.extend_from_slice(b"\r\n");
    }
}

/// What is wrong with a row as a whole.
fn wrong(code: &str, detail: String) -> Problem {
    Problem::invalid(vec![fault("#/row", code, detail)])
}

fn malformed(detail: impl Into<String>) -> Problem {
    Problem::new(problem::MALFORMED_BODY, detail)
}

/// The answer to a whole table.
pub(crate) fn whole(
    entry: &'static Entry,
    query: &str,
    body: &[u8],
    mut held: Held,
    stop: &Stop,
) -> Result<(Vec<u8>, Held), Problem> {
    held.grow(2 * body.len())?;
    let controls = Controls::read(query)?;
    // Cut like an endless one, so that what is too long is found in the same way.
    let mut cutter = controls.cutter();
    body.chunks(LONGEST_LINE).for_each(|chunk| cutter.add(chunk));
    cutter.end();
    let text = cutter.take().text;
    let (table, mut out, mut begin) = Table::open(entry, controls, &text)?;
    while begin < text.len() {
        let (mut more, read) = table.rows(&text[begin..], ENOUGH, stop);
        out.append(&mut more);
        begin += read;
        held.grow(body.len() + text.len() + out.len())?;
    }
    Ok((out, held))
}

/// The same without a server: a table of any length from a reader to a writer, on all cores.
///
/// # Errors
/// When reading or writing fails; inside, the problem of a table that is refused whole.
pub(crate) fn answer_all(
    entry: &'static Entry,
    query: &str,
    mut input: impl Read + Send,
    mut output: impl Write + Send,
) -> io::Result<Result<(), Problem>> {
    let controls = match Controls::read(query) {
        Ok(controls) => controls,
        Err(problem) => return refuse(query, problem, &mut output),
    };
    let mut cutter = controls.cutter();
    let mut first = next_block(&mut input, &mut cutter)?.unwrap_or_default().text;
    let (table, header, begin) = match Table::open(entry, controls, &first) {
        Ok(opened) => opened,
        Err(problem) => return refuse(query, problem, &mut output),
    };
    output.write_all(&header)?;
    let mut first = Some(first.split_off(begin));
    in_order(
        || match first.take() {
            Some(rows) => Ok(Some(rows)),
            None => next_block(&mut input, &mut cutter).map(|block| block.map(|block| block.text)),
        },
        // Nobody else needs the memory: a block is answered at once.
        |text| table.rows(&text, usize::MAX, &Stop::never()).0,
        |text| output.write_all(&text),
    )?;
    output.flush().map(Ok)
}

fn refuse(query: &str, problem: Problem, output: &mut impl Write) -> io::Result<Result<(), Problem>> {
    match refused(query, problem) {
        Ok(table) => output.write_all(&table).map(Ok),
        Err(problem) => Ok(Err(problem)),
    }
}
