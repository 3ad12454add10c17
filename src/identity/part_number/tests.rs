use super::table::{CODES, LAYOUTS, code, layout, layouts, records};
use super::*;

/// Every row is read, every code belongs to a field of its layout, and every example to the layout that has it.
#[test]
fn the_tables_are_sound() {
    let mut names = Vec::new();
    for record in records(LAYOUTS) {
        let read = layout(&record).unwrap_or_else(|| panic!("{record:?}"));
        let example = part_number(&record[4]).unwrap_or_else(|| panic!("{record:?}"));
        assert_eq!((example.layout, example.maker), (read.name.as_str(), read.maker.as_str()), "{record:?}");
        assert!(says(&record[3], "").all(|statement| statement.is_some()), "{record:?}");
        names.push(record[0].to_owned());
    }
    assert_eq!(names.len(), LAYOUTS.lines().filter(|line| !line.starts_with('#')).count() - 1);
    let mut count = 0;
    for record in records(CODES) {
        let (of, field, codes, _) = code(&record).unwrap_or_else(|| panic!("{record:?}"));
        for name in of.split(' ') {
            let layout =
                layouts().iter().find(|layout| layout.name == name).unwrap_or_else(|| panic!("{record:?}"));
            assert!(layout.pattern.capture_names().flatten().any(|own| own == field), "{record:?}");
        }
        for code in codes.split('|') {
            let code = if code == "*" { "16" } else { code };
            // What is counted in the code itself need not be a number in this place.
            let number =
                code.parse::<u32>().is_ok() || !record[3].contains('#') || record[3].contains("depth=#");
            let code = if record[3].contains("depth=#") && code == "16" && !record[3].contains("#M") {
                "16M"
            } else {
                code
            };
            assert!(number && says(&record[3], code).all(|statement| statement.is_some()), "{record:?}");
        }
        count += 1;
    }
    assert_eq!(count, CODES.lines().filter(|line| !line.starts_with('#')).count() - 1);
}

fn says<'s>(says: &'s str, code: &'s str) -> impl Iterator<Item = Option<Statement>> {
    says.split(' ').filter(|says| !says.is_empty()).map(move |says| Statement::read(says, code))
}

#[test]
fn numbers_are_read_however_they_are_printed() {
    let module = |text: &str| part_number(text).unwrap_or_else(|| panic!("{text}")).module;
    let own = module("M393A4K40CB2-CTD");
    for printed in ["m393a4k40cb2-ctd", "  M393A4K40CB2-CTD  ", "M393A4K40CB2-CTD\0\0", "M393A4K40CB2-CTD BF"]
    {
        assert_eq!(module(printed), own, "{printed:?}");
    }
    let coded: String = "18HTF12872AY-667F1".bytes().map(|byte| format!("{byte:02X}")).collect();
    for printed in [format!("0x{coded}"), coded.clone(), format!("{coded}2020"), format!("0x{coded}00")] {
        let read = part_number(&printed).unwrap_or_else(|| panic!("{printed}"));
        assert_eq!(read.text, "18HTF12872AY-667F1");
        assert_eq!(read.module.size.unwrap().value, Bytes::gib(1));
    }
    // What is cut off must not be taken for a code.
    assert_eq!(part_number("18HTF12872"), None);
    for printed in ["", " ", "0x", "123456789012345678", "WW16-2R4-1333L", "\u{e9}\u{e9}", "0x4D33"] {
        assert_eq!(part_number(printed), None, "{printed:?}");
    }
}

/// Two possible dies, of which the packages leave one.
#[test]
fn ranks_follow_from_dies() {
    let ranks = |text: &str| part_number(text).unwrap().module.ranks.unwrap().value;
    assert_eq!(ranks("M386A4G40DM0-CPB"), 4);
    assert_eq!(ranks("M393A4G40AB3-CWE"), 1);
    assert_eq!(ranks("M393A8K40B22-CWD"), 4);
    assert_eq!(ranks("M386B8G70DE0-YH9"), 8);
    assert_eq!(ranks("HMT351V7BMR4C-H9"), 2);
    assert_eq!(ranks("HMABAGL7ABR4N-XN"), 4);
}

/// What is remembered or inferred informs, and never decides.
#[test]
fn a_property_is_as_sure_as_its_weakest_source() {
    let module = part_number("M393B2G70BH0-YK0").unwrap().module;
    assert_eq!(module.kind.unwrap().certainty, Certainty::Published);
    assert_eq!(module.size.unwrap().certainty, Certainty::Published);
    assert_eq!(module.width.unwrap().certainty, Certainty::Secondary);
    assert_eq!(module.ranks.unwrap().certainty, Certainty::Inferred);
    assert!(!Certainty::Inferred.binds() && Certainty::Secondary.binds());
    let micron = part_number("MTA36ASF4G72PZ-2G6").unwrap().module;
    assert_eq!((micron.ranks.unwrap().value, micron.ranks.unwrap().certainty), (2, Certainty::Published));
}
