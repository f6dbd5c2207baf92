//! How the workbook looks: plain, inputs tinted, everything else quiet.

use rust_xlsxwriter::{Format, FormatAlign, FormatBorder};

const INK: u32 = 0x1F_2A_36;
const QUIET: u32 = 0x7A_85_90;
const LINE: u32 = 0xC9_D1_D8;
const INPUT: u32 = 0xF3_EE_DC;
const BAR: u32 = 0x2F_4B_5C;
const ALARM: u32 = 0xB0_2A_1E;

/// The formats of all cells.
pub(super) struct Look {
    pub(super) title: Format,
    pub(super) bar: Format,
    pub(super) bar_right: Format,
    pub(super) heading: Format,
    pub(super) name: Format,
    pub(super) required: Format,
    pub(super) number_input: Format,
    pub(super) text_input: Format,
    pub(super) address_input: Format,
    pub(super) unit: Format,
    pub(super) meaning: Format,
    pub(super) result: Format,
    pub(super) address: Format,
    pub(super) text: Format,
    pub(super) strong: Format,
    pub(super) link: Format,
    pub(super) refused: Format,
    pub(super) not_given: Format,
}

impl Look {
    pub(super) fn new() -> Self {
        let plain = || Format::new().set_font_color(INK).set_align(FormatAlign::Top);
        let quiet = || plain().set_font_color(QUIET).set_font_size(9);
        let bar = || Format::new().set_background_color(BAR).set_font_color(0xFF_FF_FF);
        let input = || plain().set_background_color(INPUT).set_border(FormatBorder::Hair).set_border_color(LINE);
        Self {
            title: plain().set_bold().set_font_size(16),
            bar: bar().set_bold(),
            bar_right: bar().set_align(FormatAlign::Right).set_font_size(9),
            heading: quiet().set_border_bottom(FormatBorder::Thin).set_border_bottom_color(LINE),
            name: plain(),
            required: plain().set_bold(),
            number_input: input().set_align(FormatAlign::Right),
            text_input: input().set_align(FormatAlign::Right).set_num_format("@"),
            address_input: input().set_num_format("@"),
            unit: quiet().set_indent(1),
            meaning: quiet().set_text_wrap(),
            result: plain(),
            address: quiet(),
            text: plain().set_text_wrap(),
            strong: plain().set_bold().set_text_wrap(),
            link: plain().set_font_color(BAR).set_underline(rust_xlsxwriter::FormatUnderline::Single),
            refused: Format::new().set_font_color(ALARM).set_bold(),
            not_given: Format::new().set_font_color(QUIET).set_italic(),
        }
    }
}
