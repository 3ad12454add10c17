//! What part numbers say, as the command prints it.

use crate::util::command::{Bench, asfitted, json, stderr, stdout};

#[test]
fn part_numbers_are_explained_code_by_code() {
    let text = stdout(&asfitted().args(["parts", "explain", "m393a4k40cb2-ctd"]).assert().code(0));
    let words = text.split_whitespace().collect::<Vec<_>>().join(" ");
    for says in [
        "32 GiB 2Rx4, DDR4, RDIMM, rated 2666 MT/s, 1.2 V",
        "informs ranks",
        "speed TD 2666 MT/s, CL19 [UK-PRICE]",
    ] {
        assert!(words.contains(says), "{says}\n{text}");
    }
    let all = asfitted()
        .args(["parts", "explain", "MTA36ASF4G72LZ-2G6", "WW16-2R4-1333L", "--format", "json"])
        .assert();
    let all = json(&all.code(3));
    assert_eq!((all["format"].as_str(), all["version"].as_u64()), (Some("asfitted.parts"), Some(1)));
    let known = &all["parts"][0];
    assert_eq!(known["module"]["kind"], "LRDIMM");
    assert_eq!(
        (known["module"]["width"].as_u64(), known["certainty"]["width"].as_str()),
        (Some(4), Some("published"))
    );
    assert!(all["sources"].as_array().unwrap().iter().any(|source| source["key"] == "MIC-DDR4-PN"), "{all}");
    assert_eq!(
        (&all["parts"][1]["part"], &all["parts"][1]["module"]),
        (&"WW16-2R4-1333L".into(), &serde_json::Value::Null)
    );
}

/// A shelf's list, one number in each line.
#[test]
fn part_numbers_come_from_a_list() {
    let bench = Bench::new();
    let list = bench.write("shelf.txt", "M393B2G70BH0-YK0\r\n\n  HMT42GR7AFR4A-PB\n");
    let all = json(
        &asfitted().args(["parts", "explain", "--format", "json", "--list"]).arg(&list).assert().code(0),
    );
    let parts: Vec<&str> =
        all["parts"].as_array().unwrap().iter().map(|part| part["part"].as_str().unwrap()).collect();
    assert_eq!(parts, ["M393B2G70BH0-YK0", "HMT42GR7AFR4A-PB"]);
    let empty = bench.write("empty.txt", "\n");
    let message = stderr(&asfitted().args(["parts", "explain", "--list"]).arg(&empty).assert().code(2));
    assert!(message.contains("empty.txt: found no part number"), "{message}");
    asfitted().args(["parts", "explain"]).assert().code(2);
}
