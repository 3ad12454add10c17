//! A board as YAML. Rules that come with its class are not repeated.

use std::fmt::Write;

use super::description::{Board, Rules, Source};
use super::library::class;
use crate::base::words::comma_list;
use crate::population::ModuleKind;
use crate::yaml::{scalar, write_comments};

/// Writes `board`, with `comments` at its head.
pub fn to_yaml(board: &Board, comments: &[String]) -> String {
    let mut out = String::new();
    // Writing to a string cannot fail.
    let _ = write_board(&mut out, board, comments);
    out
}

fn write_board(out: &mut String, board: &Board, comments: &[String]) -> std::fmt::Result {
    write_comments(out, comments)?;
    writeln!(out, "board: {}", scalar(&board.name))?;
    if let Some(class) = &board.class {
        writeln!(out, "class: {}", scalar(class))?;
    }
    if let Some(about) = &board.about {
        writeln!(out, "about: {}", scalar(about))?;
    }
    if let Some(generation) = board.rules.generation {
        writeln!(out, "generation: {}", scalar(generation.name()))?;
    }
    if let Some(colour) = &board.first_slot_colour {
        writeln!(out, "first_slot_colour: {}", scalar(colour))?;
    }
    if !board.order_known {
        writeln!(out, "order_known: false")?;
    }
    writeln!(out, "sockets:")?;
    for socket in &board.sockets {
        writeln!(out, "  - socket: {}", socket.number)?;
        if let Some(processor) = &socket.processor {
            writeln!(out, "    processor: {}", scalar(processor))?;
        }
        writeln!(out, "    channels:")?;
        for channel in &socket.channels {
            writeln!(out, "      - channel: {}", scalar(&channel.name))?;
            let slots = comma_list(channel.slots.iter().map(|slot| flow(slot)));
            writeln!(out, "        slots: [{slots}]")?;
        }
    }
    let inherited = board.class.as_deref().and_then(class).map(|class| class.rules).unwrap_or_default();
    write_rules(out, &board.rules, &inherited)?;
    let used: Vec<&(String, String)> =
        board.sources.iter().filter(|(key, _)| uses(&board.rules, &inherited, key)).collect();
    if !used.is_empty() {
        writeln!(out, "sources:")?;
        for (key, text) in used {
            writeln!(out, "  - {{key: {}, text: {}}}", flow(key), flow(text))?;
        }
    }
    if !board.unproven.is_empty() {
        writeln!(out, "unproven:")?;
        for doubt in &board.unproven {
            writeln!(out, "  - {}", scalar(doubt))?;
        }
    }
    Ok(())
}

/// A scalar inside brackets, where more characters need quotes.
fn flow(text: &str) -> String {
    let plain = scalar(text);
    if plain.contains([',', '[', ']', '{', '}']) && !plain.starts_with(['\'', '"']) {
        return format!("'{}'", text.replace('\'', "''"));
    }
    plain
}

fn source(source: &Source) -> String {
    match source {
        Source::Published(key) => format!(", source: {}", flow(key)),
        Source::Derived => ", source: derived".to_owned(),
        Source::CommonPractice => ", source: common practice".to_owned(),
        Source::Memory => ", source: memory".to_owned(),
        Source::Own => String::new(),
    }
}

/// A rule without a number: its source alone.
fn only_source(from: &Source) -> String {
    source(from).trim_start_matches(", ").to_owned()
}

fn numbers(key: &str, numbers: &[u8]) -> String {
    if numbers.is_empty() {
        return String::new();
    }
    format!("{key}: [{}], ", comma_list(numbers))
}

fn kinds(kinds: &[ModuleKind]) -> String {
    if kinds.is_empty() {
        return String::new();
    }
    format!("kinds: [{}], ", comma_list(kinds))
}

fn write_rules(out: &mut String, rules: &Rules, base: &Rules) -> std::fmt::Result {
    let mut lines = String::new();
    if !rules.kinds.is_empty() && rules.kinds != base.kinds {
        writeln!(lines, "  kinds: [{}]", comma_list(&rules.kinds))?;
    }
    if !rules.voltages.is_empty() && rules.voltages != base.voltages {
        writeln!(lines, "  voltages: [{}]", comma_list(&rules.voltages))?;
    }
    if let Some(rule) =
        rules.largest_module.as_ref().filter(|rule| Some(*rule) != base.largest_module.as_ref())
    {
        writeln!(lines, "  largest_module: {{size: {}{}}}", rule.value, source(&rule.source))?;
    }
    for (key, rule, old) in [
        ("ranks_per_channel", &rules.ranks_per_channel, &base.ranks_per_channel),
        ("load_reduced_counts", &rules.load_reduced_counts, &base.load_reduced_counts),
    ] {
        if let Some(rule) = rule.as_ref().filter(|rule| Some(*rule) != old.as_ref()) {
            writeln!(lines, "  {key}: {{ranks: {}{}}}", rule.value, source(&rule.source))?;
        }
    }
    write_lists(&mut lines, rules, base)?;
    for (key, rule, old) in [
        ("first_slot_first", &rules.first_slot_first, &base.first_slot_first),
        ("most_ranks_first", &rules.most_ranks_first, &base.most_ranks_first),
    ] {
        if let Some(rule) = rule.as_ref().filter(|rule| Some(*rule) != old.as_ref()) {
            writeln!(lines, "  {key}: {{{}}}", only_source(&rule.source))?;
        }
    }
    write_tables(&mut lines, rules, base)?;
    if !lines.is_empty() {
        write!(out, "rules:\n{lines}")?;
    }
    Ok(())
}

/// Limits and mixtures, a line each.
fn write_lists(lines: &mut String, rules: &Rules, base: &Rules) -> std::fmt::Result {
    if !rules.channel_limits.is_empty() && rules.channel_limits != base.channel_limits {
        writeln!(lines, "  channel_limits:")?;
        for limit in &rules.channel_limits {
            let ranks = if limit.ranks_from > 1 {
                format!("ranks_from: {}, ", limit.ranks_from)
            } else {
                String::new()
            };
            let whole = if limit.whole_socket { ", whole_socket: true" } else { "" };
            let from = source(&limit.source);
            writeln!(lines, "    - {{{}{ranks}most: {}{whole}{from}}}", kinds(&limit.kinds), limit.most)?;
        }
    }
    if !rules.never_mix.is_empty() && rules.never_mix != base.never_mix {
        writeln!(lines, "  never_mix:")?;
        for rule in &rules.never_mix {
            writeln!(
                lines,
                "    - {{{}{}}}",
                kinds(&rule.value).trim_end_matches(", "),
                source(&rule.source)
            )?;
        }
    }
    Ok(())
}

/// Speeds, processors and modes, a line each.
fn write_tables(lines: &mut String, rules: &Rules, base: &Rules) -> std::fmt::Result {
    if !rules.speeds.is_empty() && rules.speeds != base.speeds {
        writeln!(lines, "  speeds:")?;
        for row in &rules.speeds {
            let family =
                row.family.as_deref().map_or_else(String::new, |name| format!("family: {}, ", flow(name)));
            let voltage = row.voltage.map_or_else(String::new, |voltage| format!("voltage: {voltage}, "));
            let rated = row.rated.map_or_else(String::new, |rate| format!("rated: {}, ", rate.0));
            let ceiling = if row.ceiling { ", ceiling: true" } else { "" };
            writeln!(
                lines,
                "    - {{{family}{}{}{}{}{voltage}{rated}most: {}{ceiling}{}}}",
                kinds(&row.kinds),
                numbers("ranks", &row.ranks),
                numbers("modules", &row.modules),
                numbers("slots", &row.slots),
                row.most.0,
                source(&row.source)
            )?;
        }
    }
    if !rules.processors.is_empty() && rules.processors != base.processors {
        writeln!(lines, "  processors:")?;
        for row in &rules.processors {
            let family =
                row.family.as_deref().map_or_else(String::new, |name| format!(", family: {}", flow(name)));
            let most = row.most.map_or_else(String::new, |rate| format!(", most: {}", rate.0));
            writeln!(
                lines,
                "    - {{model: {}{family}{most}{}}}",
                flow(row.model.as_str()),
                source(&row.source)
            )?;
        }
    }
    if !rules.modes.is_empty() && rules.modes != base.modes {
        writeln!(lines, "  modes:")?;
        for mode in &rules.modes {
            writeln!(lines, "    - {{mode: {}{}}}", flow(mode.value.name()), source(&mode.source))?;
        }
    }
    Ok(())
}

/// Whether a source is named by a rule that is written.
fn uses(rules: &Rules, base: &Rules, key: &str) -> bool {
    let mut own = String::new();
    let _ = write_rules(&mut own, rules, base);
    let wanted = format!("source: {}", flow(key));
    own.match_indices(&wanted).any(|(at, _)| own[at + wanted.len()..].starts_with('}'))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::board::{CLASSES, read};

    #[test]
    fn every_class_reads_back_as_it_was_written() {
        for entry in CLASSES {
            let board = class(entry.name).unwrap();
            let yaml = to_yaml(&board, &["a test".to_owned()]);
            let again = read("again", &yaml).unwrap_or_else(|error| panic!("{error}\n{yaml}"));
            assert_eq!(again, board, "{yaml}");
        }
    }
}
