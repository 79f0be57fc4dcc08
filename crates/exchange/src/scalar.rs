//! What one cell says: a number, yes or no, a day, a time, an id, one of a few words.

use chrono::{DateTime, Datelike, NaiveDate, Utc};
use longlay_records::id::AssetId;
use longlay_records::text::{self, TextFault};
use uuid::Uuid;

use crate::fault::{Wrong, quoted};
use crate::fields::Cell;
use crate::header;
use crate::read::{DateFormat, Spoken};

pub(crate) fn number(cell: &Cell<'_>) -> Result<f64, Wrong> {
    match cell {
        Cell::Number(number) => Ok(*number),
        Cell::Text(text) => written_number(text),
        Cell::Flag(flag) => Err(Wrong::new("not_a_number", format!("{flag} is no number"))),
    }
}

pub(crate) fn written_number(text: &str) -> Result<f64, Wrong> {
    let text = text.trim();
    let plain = !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit() || b"+-.eE".contains(&b));
    match text.parse::<f64>() {
        Ok(number) if plain && number.is_finite() => Ok(number),
        _ => Err(no_number(text)),
    }
}

/// Units that are no words.
const SIGNS: [&str; 5] = ["%", "\"", "'", "''", "\u{b0}"];

/// Why it is no number, in the words of whoever has to mend it.
fn no_number(text: &str) -> Wrong {
    let shown = quoted(text);
    let starts_as_one = text.trim_start_matches(['-', '+']).starts_with(|c: char| c.is_ascii_digit());
    if starts_as_one && text.chars().all(|c| c.is_ascii_digit() || "+-., ' \u{a0}\u{202f}".contains(c)) {
        return Wrong::new(
            "grouped_number",
            format!("{shown}: write numbers without separators, with a point for decimals"),
        );
    }
    let behind = text.trim_start_matches(|c: char| c.is_ascii_digit() || "+-., ".contains(c)).trim_end();
    if starts_as_one && (header::is_unit(&header::normal(behind)) || SIGNS.contains(&behind)) {
        return Wrong::new("unit_in_cell", format!("{shown}: write the number alone; the column's name says its unit"));
    }
    Wrong::new("not_a_number", format!("{shown} is no number"))
}

pub(crate) fn flag(cell: &Cell<'_>) -> Result<bool, Wrong> {
    match cell {
        Cell::Flag(flag) => Ok(*flag),
        Cell::Number(number) if *number == 1.0 || *number == 0.0 => Ok(*number == 1.0),
        Cell::Number(number) => Err(Wrong::new("not_yes_or_no", format!("{number} is neither yes nor no"))),
        Cell::Text(text) => match text.to_ascii_lowercase().as_str() {
            "yes" | "true" | "1" => Ok(true),
            "no" | "false" | "0" => Ok(false),
            _ => Err(Wrong::new("not_yes_or_no", format!("{} is neither yes nor no", quoted(text)))),
        },
    }
}

pub(crate) fn asset_id(text: &str) -> Result<AssetId, Wrong> {
    AssetId::new(text).map_err(|error| Wrong::new("invalid_id", format!("{}: {error}", quoted(text))))
}

pub(crate) fn test_id(text: &str) -> Result<Uuid, Wrong> {
    let id = Uuid::try_parse(text).ok().filter(|id| id.get_version_num() == 7);
    id.ok_or_else(|| {
        Wrong::new("invalid_id", format!("{} is no id that an export wrote; leave it empty", quoted(text)))
    })
}

pub(crate) fn words(text: &str, most: usize) -> Result<String, Wrong> {
    match text::check(text, most) {
        Ok(()) => Ok(text.to_owned()),
        Err(fault @ TextFault::Length(_)) => Err(Wrong::new("out_of_bounds", fault.to_string())),
        Err(fault @ TextFault::ControlCharacter) => Err(Wrong::new("control_character", fault.to_string())),
    }
}

pub(crate) fn one_of<T: Copy>(text: &str, choices: &[(&str, T)]) -> Result<T, Wrong> {
    let found = choices.iter().find(|(word, _)| word.eq_ignore_ascii_case(text));
    found.map(|(_, meant)| *meant).ok_or_else(|| {
        let words: Vec<_> = choices.iter().map(|(word, _)| *word).collect();
        Wrong::new("not_one_of", format!("{} is not one of {}", quoted(text), words.join(", ")))
    })
}

pub(crate) fn time(text: &str) -> Result<DateTime<Utc>, Wrong> {
    let read = DateTime::parse_from_rfc3339(text).map(|time| time.to_utc());
    // A year beyond four digits can be moved to by an offset, and could not be written back.
    let read = read.ok().filter(|time| (1900..=9999).contains(&time.year()));
    read.ok_or_else(|| Wrong::new("not_a_time", format!("{} is not a time like 2026-05-01T14:30:00Z", quoted(text))))
}

pub(crate) fn day(text: &str, format: Option<DateFormat>, spoken: Spoken) -> Result<NaiveDate, Wrong> {
    let wrong = || Wrong::new("not_a_date", format!("{} is not a date like 2026-05-01", quoted(text)));
    let day = match text.parse::<NaiveDate>().ok().filter(|day| day.format("%Y-%m-%d").to_string() == text) {
        Some(day) => day,
        None => slashed(text, format, spoken, &wrong)?,
    };
    if !(1900..=9999).contains(&day.year()) {
        return Err(Wrong::new("out_of_bounds", format!("the year must be from 1900 to 9999, not {}", day.year())));
    }
    Ok(day)
}

/// `5/1/2026`, which is two days until somebody says which comes first.
fn slashed(
    text: &str,
    format: Option<DateFormat>,
    spoken: Spoken,
    wrong: &dyn Fn() -> Wrong,
) -> Result<NaiveDate, Wrong> {
    let parts: Vec<&str> = text.split(['/', '.', '-']).map(str::trim).collect();
    let [first, second, year] = parts.as_slice() else { return Err(wrong()) };
    if !parts.iter().all(|part| part.bytes().all(|b| b.is_ascii_digit())) {
        return Err(wrong());
    }
    let short = |part: &str| if (1..=2).contains(&part.len()) { part.parse::<u32>().ok() } else { None };
    let (Some(first), Some(second), 4, Ok(year)) = (short(first), short(second), year.len(), year.parse::<i32>())
    else {
        return Err(wrong());
    };
    let month_and_day = |format| match format {
        DateFormat::MonthFirst => (first, second),
        DateFormat::DayFirst => (second, first),
    };
    let read = |format| {
        let (month, day) = month_and_day(format);
        NaiveDate::from_ymd_opt(year, month, day)
    };
    if let Some(format) = format {
        return read(format).ok_or_else(|| no_such_day(text, year, month_and_day(format), format));
    }
    let say = spoken.date_format();
    match (read(DateFormat::MonthFirst), read(DateFormat::DayFirst)) {
        (None, None) => Err(wrong()),
        (Some(month_first), Some(day_first)) => Err(Wrong::new(
            "ambiguous_date",
            format!("{} is {month_first} or {day_first}: write it so, or say {say}", quoted(text)),
        )),
        (Some(day), None) | (None, Some(day)) => {
            Err(Wrong::new("date_format_needed", format!("{} would be {day}: write it so, or say {say}", quoted(text))))
        }
    }
}

/// Why no day is written there, with what comes first settled.
fn no_such_day(text: &str, year: i32, (month, day): (u32, u32), format: DateFormat) -> Wrong {
    let first = match format {
        DateFormat::MonthFirst => "month",
        DateFormat::DayFirst => "day",
    };
    let missing = if (1..=12).contains(&month) {
        format!("no day {day} in month {month} of {year}")
    } else {
        format!("no month {month}")
    };
    Wrong::new("not_a_date", format!("{} with the {first} first: there is {missing}", quoted(text)))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn code<T: std::fmt::Debug>(read: Result<T, Wrong>) -> &'static str {
        read.unwrap_err().code
    }

    #[test]
    fn numbers_are_plain() {
        for (text, meant) in [("5", 5.0), (" -90.1 ", -90.1), ("1e3", 1000.0), (".5", 0.5)] {
            assert_eq!(written_number(text), Ok(meant));
        }
        for text in ["1,250", "1 250", "2,5", "1.250,5"] {
            assert_eq!(code(written_number(text)), "grouped_number", "{text}");
        }
        for text in ["50 psi", "5\"", "12%", "2m"] {
            assert_eq!(code(written_number(text)), "unit_in_cell", "{text}");
        }
        for text in ["", "nan", "inf", "-", "n/a", "1e999", "0x10", "4B", "12-A"] {
            assert_eq!(code(written_number(text)), "not_a_number", "{text}");
        }
        assert_eq!(written_number("4B").unwrap_err().detail, "`4B` is no number");
    }

    #[test]
    fn a_day_that_could_be_two_is_refused_with_both() {
        let wrong = day("5/1/2026", None, Spoken::Query).unwrap_err();
        assert_eq!(wrong.code, "ambiguous_date");
        assert!(wrong.detail.contains("2026-05-01 or 2026-01-05"), "{wrong:?}");
        assert_eq!(code(day("5/13/2026", None, Spoken::Query)), "date_format_needed");
        assert_eq!(
            day("5/1/2026", Some(DateFormat::MonthFirst), Spoken::Query),
            Ok(NaiveDate::from_ymd_opt(2026, 5, 1).unwrap())
        );
        assert_eq!(
            day("5.1.2026", Some(DateFormat::DayFirst), Spoken::Query),
            Ok(NaiveDate::from_ymd_opt(2026, 1, 5).unwrap())
        );
        assert_eq!(code(day("13/5/2026", Some(DateFormat::MonthFirst), Spoken::Query)), "not_a_date");
        assert_eq!(
            day("2026-05-01", Some(DateFormat::DayFirst), Spoken::Query),
            Ok(NaiveDate::from_ymd_opt(2026, 5, 1).unwrap())
        );
        for text in ["5/1/26", "2026-5-1", "2026/05/01", "31/31/2026", "May 1", "46143", "+2026-05-01", "1/+1/2026"] {
            assert_eq!(code(day(text, None, Spoken::Query)), "not_a_date", "{text}");
        }
    }

    #[test]
    fn what_is_wrong_with_a_slashed_date_is_said_in_its_senders_own_way() {
        let detail = |text, format, spoken| day(text, format, spoken).unwrap_err().detail;
        let month_first = Some(DateFormat::MonthFirst);
        assert!(detail("13/4/2026", month_first, Spoken::Query).ends_with("there is no month 13"));
        assert!(detail("2/30/2026", month_first, Spoken::Query).ends_with("there is no day 30 in month 2 of 2026"));
        for (spoken, says) in [(Spoken::Query, "date_format=mdy"), (Spoken::CommandLine, "--date-format mdy")] {
            for text in ["5/1/2026", "5/13/2026"] {
                assert!(detail(text, None, spoken).contains(says), "{text}");
            }
        }
    }

    #[test]
    fn yes_and_no_come_in_a_few_ways() {
        for (text, meant) in [("Yes", true), ("TRUE", true), ("1", true), ("no", false), ("False", false), ("0", false)]
        {
            assert_eq!(flag(&Cell::Text(text)), Ok(meant));
        }
        assert_eq!(code(flag(&Cell::Text("maybe"))), "not_yes_or_no");
        assert_eq!(code(flag(&Cell::Number(2.0))), "not_yes_or_no");
    }
}
