//! The table of settings in README.md beside what the binary says of itself.

use std::collections::BTreeSet;

use tests::{root, run};

/// Flag, environment variable and default of one setting.
type Setting = (String, String, String);

/// The settings of `--help`: a flag begins a paragraph, and `[env: …]` and `[default: …]` stand in it.
fn of_help() -> BTreeSet<Setting> {
    let help = String::from_utf8(run(&["--help"], "").stdout).unwrap();
    let inside = |paragraph: &str, name: &str| {
        let (_, rest) = paragraph.split_once(&format!("[{name}: "))?;
        Some(rest.split([']', '=']).next().unwrap_or_default().to_owned())
    };
    let paragraphs = help.split("\n      --").skip(1);
    paragraphs
        .map(|paragraph| {
            let flag = paragraph.split_whitespace().next().unwrap();
            let environment = inside(paragraph, "env").unwrap_or_else(|| panic!("{flag} has no environment variable"));
            (flag.to_owned(), environment, inside(paragraph, "default").unwrap_or_default())
        })
        .collect()
}

/// The rows of the table; a default in words is none that the binary knows.
fn of_table() -> BTreeSet<Setting> {
    let text = std::fs::read_to_string(root().join("README.md")).unwrap();
    let rows: Vec<&str> = text.lines().filter(|line| line.starts_with("| `--")).collect();
    let settings: BTreeSet<Setting> = rows
        .iter()
        .map(|row| {
            let cells: Vec<&str> = row.split('|').map(str::trim).collect();
            assert_eq!(cells.len(), 6, "{row}");
            assert!(cells[4].len() > 10, "it says what the setting does: {row}");
            let code = |cell: &str| cell.strip_prefix('`').and_then(|cell| cell.strip_suffix('`')).map(str::to_owned);
            let flag = code(cells[1]).unwrap().trim_start_matches("--").to_owned();
            (flag, code(cells[2]).unwrap(), code(cells[3]).unwrap_or_default())
        })
        .collect();
    assert_eq!(settings.len(), rows.len(), "no setting stands twice");
    settings
}

#[test]
fn the_table_of_settings_is_what_the_binary_takes() {
    let (table, help) = (of_table(), of_help());
    assert!(help.len() >= 8, "{help:?}");
    assert_eq!(table, help);
}
