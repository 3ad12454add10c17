//! One decision for each host, what the stock says included, and the same in every output.

use std::collections::BTreeMap;

use serde_json::Value;

use crate::util::command::json_lines;
use crate::util::pallet::fleet;

/// Hosts that are not held by their audits and that the stock decides on.
const BY_STOCK: &[(&str, &str)] = &[
    ("bay19.txt", "hold"),
    ("bay30.txt", "hold"),
    ("bay31.txt", "hold"),
    ("bay32.txt", "hold"),
    ("bay33.txt", "hold"),
    ("bay34.txt", "hold"),
    ("bay35.txt", "cannot-say"),
];

/// The decision that a line alone leads to.
fn by_audit(line: &Value) -> &'static str {
    match line["verdict"].as_str() {
        Some("as-planned") => "may-ship",
        Some("deviates") => "hold",
        _ => "cannot-say",
    }
}

/// Long, since it reads every output of one run.
#[test]
fn a_host_has_one_decision_in_all_outputs() {
    let out = tempfile::tempdir().unwrap();
    let at = |name: &str| out.path().join(name);
    let mut command = fleet();
    for option in ["--json-lines", "--hosts-table", "--findings-table", "--test-report", "--metrics"] {
        command.arg(option).arg(at(option.trim_start_matches('-')));
    }
    command.args(["--format", "html", "--output"]).arg(at("pages")).assert().code(2);
    let read = |name: &str| std::fs::read_to_string(at(name)).unwrap();

    let lines = json_lines(read("json-lines").as_bytes());
    let (last, hosts) = lines.split_last().unwrap();
    let name = |line: &Value| line["listing"]["name"].as_str().unwrap().to_owned();
    let mut decided: BTreeMap<String, &str> = hosts.iter().map(|line| (name(line), by_audit(line))).collect();
    let changed: Vec<(&str, &str)> = last["decisions"]
        .as_array()
        .unwrap()
        .iter()
        .map(|changed| {
            assert_ne!(changed["because"], "");
            (changed["host"].as_str().unwrap(), changed["decision"].as_str().unwrap())
        })
        .collect();
    let wanted: Vec<(String, &str)> =
        BY_STOCK.iter().map(|(file, decision)| (format!("listings/{file}"), *decision)).collect();
    assert_eq!(changed, wanted.iter().map(|(host, decision)| (host.as_str(), *decision)).collect::<Vec<_>>());
    for (host, decision) in changed {
        decided.insert(host.to_owned(), decision);
    }
    let count = |decision: &str| decided.values().filter(|own| **own == decision).count();
    for (key, decision) in [("may_ship", "may-ship"), ("hold", "hold"), ("cannot_say", "cannot-say")] {
        assert_eq!(last["hosts"][key], count(decision), "{key}");
        let sample = format!("asfitted_fleet_decisions{{decision=\"{decision}\"}} {}\n", count(decision));
        assert!(read("metrics").contains(&sample), "{sample}");
    }

    // The tables.
    for table in ["hosts-table", "findings-table"] {
        let mut table = csv::Reader::from_path(at(table)).unwrap();
        let column = table.headers().unwrap().iter().position(|name| name == "decision").unwrap();
        let mut rows = 0;
        for row in table.records().map(Result::unwrap) {
            if let Some(decision) = decided.get(&row[0]) {
                assert_eq!(&row[column], *decision, "{row:?}");
                rows += 1;
            }
        }
        assert!(rows > 20);
    }

    // The test report: what passes may ship, and nothing else does.
    let report = read("test-report");
    let report = roxmltree::Document::parse(&report).unwrap();
    let cases = report.descendants().filter(|node| node.attribute("classname") == Some("asfitted"));
    for case in cases {
        let host = case.attribute("name").unwrap();
        let passes = !case.children().any(|child| child.is_element());
        assert_eq!(passes, decided[host] == "may-ship", "{host}");
        assert!(
            !case.children().any(|child| child.has_tag_name("failure")) || decided[host] == "hold",
            "{host}"
        );
    }

    // The pages.
    let page = read("pages/index.html");
    let rows = page.split_once("id=\"hosts-data\">").unwrap().1.split_once("</script>").unwrap().0;
    let rows: Vec<Value> = serde_json::from_str(rows).unwrap();
    assert_eq!(rows.len(), hosts.len());
    for row in &rows {
        assert_eq!(row["decision"], decided[row["name"].as_str().unwrap()], "{row}");
    }
    assert!(page.contains(&format!("{} of {} may ship", count("may-ship"), hosts.len())));
    assert!(read("pages/hosts/000001.html").contains("Its decision, with what the stock says"));
}
