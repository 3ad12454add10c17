//! The pages for a browser: the same findings as in the JSON by an independent reader of HTML, sizes, folders, and
//! a real browser where there is one.

use std::collections::BTreeSet;
use std::fmt::Write as _;
use std::path::Path;
use std::process::Command as Process;

use scraper::{ElementRef, Html, Selector};
use serde_json::{Value, json};

use crate::command::cli::{Bench, asfitted, stderr, stdout};
use crate::util::corpus as fixture;

fn select(selector: &str) -> Selector {
    Selector::parse(selector).unwrap()
}

fn text_of(element: ElementRef<'_>) -> String {
    element.text().collect::<String>().split_whitespace().collect::<Vec<_>>().join(" ")
}

/// The texts of a row's cells.
fn cells(row: ElementRef<'_>) -> Vec<String> {
    row.select(&select("th, td")).map(text_of).collect()
}

fn all<'h>(html: &'h Html, selector: &str) -> Vec<ElementRef<'h>> {
    html.select(&select(selector)).collect()
}

/// Runs a command as JSON and as a page.
fn both(arguments: &[&str], folder: &Path) -> (Value, Html) {
    let run = |format: &str| {
        let output =
            asfitted().current_dir(folder).args(arguments).args(["--format", format]).output().unwrap();
        assert_ne!(output.status.code(), Some(2), "{}", String::from_utf8_lossy(&output.stderr));
        String::from_utf8(output.stdout).unwrap()
    };
    let json = run("json");
    (serde_json::from_str(&json).unwrap(), Html::parse_document(&run("html")))
}

fn strings<'v>(value: &'v Value, key: &str) -> Vec<&'v str> {
    value[key].as_array().unwrap().iter().map(|item| item.as_str().unwrap()).collect()
}

/// Every finding, cause, line of evidence and step of the JSON is on the page, and nothing else is.
fn same_findings(json: &Value, page: &Html, what: &str) {
    let findings = json["findings"].as_array().unwrap();
    let paragraphs = all(page, "main > * article p[data-finding]");
    assert_eq!(paragraphs.len(), findings.len(), "{what}");
    let mut taken = vec![false; paragraphs.len()];
    for finding in findings {
        let slots = strings(finding, "slots").join(", ");
        let says = |element: &ElementRef<'_>| {
            let own = text_of(*element);
            let article = ElementRef::wrap(element.parent().unwrap()).unwrap();
            let heading = text_of(article.select(&select("h3")).next().unwrap());
            let whole = text_of(article);
            let squeezed =
                |text: &Value| text.as_str().unwrap().split_whitespace().collect::<Vec<_>>().join(" ");
            element.value().attr("data-finding") == finding["kind"].as_str()
                && heading.contains(&format!("({})", finding["severity"].as_str().unwrap()))
                && (slots.is_empty() || own.contains(&slots))
                && (heading.contains(&squeezed(&finding["summary"]))
                    || own.contains(&squeezed(&finding["summary"])))
                && finding["other_slot"]
                    .as_str()
                    .is_none_or(|other| own.ends_with(other) || own.contains(other))
                && strings(finding, "fields").iter().all(|field| own.contains(field))
                && whole.contains(&squeezed(&finding["expected"]))
                && whole.contains(&squeezed(&finding["found"]))
                && finding["evidence"].as_array().unwrap().iter().all(|line| {
                    let at = format!("{} line {}", line["source"].as_str().unwrap(), line["line"]);
                    whole.contains(&at) && whole.contains(&squeezed(&line["text"]))
                })
                && finding["causes"].as_array().unwrap().iter().all(|cause| {
                    ["cause", "why", "check", "likelihood"]
                        .iter()
                        .all(|key| whole.contains(&squeezed(&cause[*key])))
                })
        };
        let at = (0..paragraphs.len()).find(|at| !taken[*at] && says(&paragraphs[*at]));
        let at = at.unwrap_or_else(|| panic!("{what}: not on the page: {finding:#}"));
        taken[at] = true;
    }
    let evidence: usize = findings.iter().map(|finding| finding["evidence"].as_array().unwrap().len()).sum();
    assert_eq!(all(page, "article .lines li").len(), evidence, "{what}");
    let steps = strings_of(json["work"].as_array().unwrap(), "text");
    let shown: Vec<String> = all(page, "[data-step]").into_iter().map(text_of).collect();
    assert_eq!(shown, steps, "{what}");
}

/// Marks of slots, the gravest first.
const GRAVE: [&str; 3] = ["fault", "warning", "unproven"];

fn strings_of(items: &[Value], key: &str) -> Vec<String> {
    let squeezed = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    items.iter().map(|item| squeezed(item[key].as_str().unwrap())).collect()
}

/// Every slot of the JSON has its row and its place in the drawing, with the same module.
fn same_slots(json: &Value, page: &Html, what: &str) {
    let slots = json["slots"].as_array().unwrap();
    // What the plan names and the listing does not have comes last.
    let (unlisted, mut listed): (Vec<&Value>, Vec<&Value>) =
        slots.iter().partition(|slot| slot["state"] == "unlisted");
    listed.extend(unlisted);
    let rows = all(page, "tr[id^=slot-]");
    let drawn = all(page, "a.slot");
    assert_eq!((rows.len(), drawn.len()), (listed.len(), listed.len()), "{what}");
    for (index, slot) in listed.iter().enumerate() {
        let row = all(page, &format!("#slot-{index}"))[0];
        let cells = cells(row);
        assert_eq!(Some(cells[0].as_str()), slot["slot"].as_str(), "{what}");
        let parts = ["socket", "channel", "position"].map(|key| place_of(slot, key));
        let parts: Vec<String> = parts.into_iter().flatten().collect();
        let place = if parts.is_empty() { "not proven".to_owned() } else { parts.join(", ") };
        assert_eq!(cells[1], place, "{what}");
        let there = &cells[cells.len() - if cells.len() == 6 { 3 } else { 2 }];
        match slot["state"].as_str().unwrap() {
            "empty" => assert_eq!(there, "empty", "{what}"),
            "unknown" => assert_eq!(there, "not stated", "{what}"),
            "unlisted" => assert_eq!(there, "not in the listing", "{what}"),
            _ => {
                for key in ["part", "serial"] {
                    let Some(text) = slot["found"][key].as_str() else { continue };
                    let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
                    assert!(there.contains(&text), "{what}: {there} lacks {text}");
                }
            }
        }
        let link = all(page, &format!("a.slot[href=\"#slot-{index}\"]"));
        assert_eq!(link.len(), 1);
        same_drawing(json, slot, link[0], what);
    }
}

/// `socket 1`, as the JSON has it.
fn place_of(slot: &Value, key: &str) -> Option<String> {
    let value = slot[key].as_str().map_or_else(|| slot[key].to_string(), str::to_owned);
    (!slot[key].is_null()).then(|| format!("{key} {value}"))
}

/// A slot is drawn in its socket and channel, looks like what it holds, and is marked by the gravest finding about it.
fn same_drawing(json: &Value, slot: &Value, drawn: ElementRef<'_>, what: &str) {
    let name = slot["slot"].as_str().unwrap();
    let spoken = drawn.value().attr("aria-label").unwrap();
    let squeezed = |text: &str| text.split_whitespace().collect::<String>();
    assert_eq!(squeezed(&text_of(drawn.select(&select(".label")).next().unwrap())), squeezed(name), "{what}");
    assert!(spoken.starts_with(name) && spoken.contains(&format!(". {name}: ")), "{what}: {spoken}");
    // Its socket is the caption's, its channel the last title before it in the drawing.
    let figure = drawn.ancestors().filter_map(ElementRef::wrap).find(|own| own.value().name() == "figure");
    let caption = text_of(figure.unwrap().select(&select("figcaption")).next().unwrap());
    match place_of(slot, "socket") {
        Some(socket) => assert_eq!(caption.split(',').next(), Some(socket.as_str()), "{what}: {name}"),
        None if slot["state"] == "unlisted" => assert_eq!(caption, "planned, and not in the listing"),
        None => assert!(caption.contains("prove"), "{what}: {name} is in {caption}"),
    }
    if let Some(channel) = slot["channel"].as_str() {
        let before =
            drawn.prev_siblings().filter_map(ElementRef::wrap).find(|own| own.value().name() == "text");
        assert_eq!(text_of(before.unwrap()), format!("ch {channel}"), "{what}: {name}");
    }
    let state = slot["state"].as_str().unwrap();
    let look = match state {
        "fitted" | "not-running" => "filled",
        _ if slot.get("planned").is_some_and(|planned| !planned.is_null()) => "lost",
        _ => "empty",
    };
    let classes: BTreeSet<&str> = drawn.value().classes().filter(|class| *class != "slot").collect();
    let says: Vec<String> = drawn.select(&select(".says")).map(text_of).collect();
    let shapes = drawn.select(&select("path.mark")).count();
    if json["format"] == "asfitted.population" {
        let mark = match state {
            "not-running" => Some(("fault", "not running")),
            "unknown" => Some(("unproven", "unknown")),
            _ => None,
        };
        let wanted = [look].into_iter().chain(mark.map(|(mark, _)| mark)).collect();
        assert_eq!(classes, wanted, "{what}: {name}");
        assert_eq!(
            says,
            mark.into_iter().map(|(_, says)| says.to_owned()).collect::<Vec<_>>(),
            "{what}: {name}"
        );
        return;
    }
    let here = |finding: &&Value| {
        // What concerns the whole machine marks no slot.
        finding["kind"] != "clocked-down"
            && (strings(finding, "slots").contains(&name) || finding["other_slot"] == name)
    };
    let here: Vec<&Value> = json["findings"].as_array().unwrap().iter().filter(here).collect();
    let of = |severity: &str| -> Vec<&str> {
        here.iter().filter(|f| f["severity"] == severity).filter_map(|f| f["kind"].as_str()).collect()
    };
    let mut kinds: Vec<&str> = GRAVE.into_iter().flat_map(of).collect();
    kinds.dedup();
    let mark = GRAVE.into_iter().find(|severity| !of(severity).is_empty());
    assert_eq!(classes, [look].into_iter().chain(mark).collect(), "{what}: {name}");
    assert_eq!(shapes, usize::from(mark.is_some()), "{what}: {name}");
    let says: Vec<String> = says.iter().map(|text| squeezed(text)).collect();
    let wanted = if kinds.is_empty() { Vec::new() } else { vec![kinds.join(",")] };
    assert_eq!(says, wanted, "{what}: {name}");
    let about = |finding: &&Value| strings(finding, "slots").contains(&name) || finding["other_slot"] == name;
    let heard: Vec<&Value> = json["findings"].as_array().unwrap().iter().filter(about).collect();
    assert!(heard.iter().all(|finding| spoken.contains(finding["kind"].as_str().unwrap())), "{spoken}");
    assert_eq!(heard.is_empty(), spoken.contains("no finding"), "{spoken}");
}

#[test]
fn a_page_says_what_the_json_says() {
    let bench = Bench::new();
    let folder = bench.path("");
    let audit = ["audit", "listing.txt", "--plan", "plan.yaml"];
    let (json, page) = both(&audit, &folder);
    same_findings(&json, &page, "audit");
    same_slots(&json, &page, "audit");
    assert_eq!(all(&page, "h1").len(), 1);
    let (json, page) = both(&["diagnose", "listing.txt", "--plan", "plan.yaml"], &folder);
    same_findings(&json, &page, "diagnose");
    let stations: Vec<Option<&str>> =
        all(&page, "[data-station]").into_iter().map(|p| p.value().attr("data-station")).collect();
    let wanted: Vec<Option<&str>> =
        json["waterfall"].as_array().unwrap().iter().map(|stage| stage["station"].as_str()).collect();
    assert_eq!(stations, wanted);
    let (json, page) = both(&["diagnose", "listing.txt", "--fitted", "12 x 16GB 2Rx4 PC3L-10600R"], &folder);
    same_findings(&json, &page, "diagnose --fitted");
    for suspect in strings(&json, "suspects") {
        assert!(text_of(all(&page, "section")[2]).contains(suspect), "{suspect}");
        let drawn = all(&page, &format!("a.slot[aria-label*=\". {suspect}: \"]"));
        let spoken = drawn[0].value().attr("aria-label").unwrap();
        assert!(drawn[0].value().classes().any(|class| GRAVE.contains(&class)), "{suspect}");
        assert!(!spoken.contains("no finding"), "{spoken}");
    }
    let (json, page) = both(&["show", "listing.txt"], &folder);
    same_slots(&json, &page, "show");
}

/// A slot that only the first listing has is named beside the map.
#[test]
fn a_page_of_a_comparison_names_slots_that_are_gone() {
    let bench = Bench::new();
    let listing = bench.read("listing.txt");
    let cut = listing.find("Locator: s2.c3.p3").unwrap();
    let cut = listing[..cut].rfind("Handle").unwrap();
    bench.write("shorter.txt", &listing[..cut]);
    let (json, page) = both(&["compare", "listing.txt", "shorter.txt"], &bench.path(""));
    assert!(
        json["changes"].as_array().unwrap().iter().any(|change| change["slot"] == "s2.c3.p3"),
        "{json:#}"
    );
    assert!(text_of(all(&page, "main")[0]).contains("In the first alone: s2.c3.p3"));
}

/// What the plan lets pass is said in every form, so that a good verdict does not hide it.
#[test]
fn waived_demands_are_shown() {
    let bench = Bench::new();
    let plan = format!("waive: [width, speed]\n{}", bench.read("plan.yaml"));
    bench.write("waiving.yaml", plan);
    for command in ["audit", "diagnose"] {
        let arguments = [command, "listing.txt", "--plan", "waiving.yaml"];
        let run = asfitted().current_dir(bench.path("")).args(arguments).assert();
        let wanted = "width, speed: by the plan";
        assert!(
            stdout(&run).lines().any(|line| line.starts_with("waived") && line.contains(wanted)),
            "{command}"
        );
        let (json, page) = both(&arguments, &bench.path(""));
        assert!(text_of(all(&page, ".facts")[0]).contains(wanted), "{command}");
        if command == "audit" {
            assert_eq!(json["plan"]["waived"], json!(["width", "speed"]));
        }
    }
}

/// What is only assumed is not shown as planned.
#[test]
fn without_a_plan_nothing_is_planned() {
    let bench = Bench::new();
    let run = |extra: &[&str]| {
        let arguments = [&["diagnose", "listing.txt"], extra].concat();
        let (_, page) = both(&arguments, &bench.path(""));
        let heads: Vec<String> = all(&page, "#slot-0 ~ tr, thead th").into_iter().map(text_of).collect();
        let drawn = text_of(all(&page, ".boards")[0]);
        let keys = all(&page, "article dt").into_iter().map(text_of).any(|key| key == "planned");
        let order = text_of(all(&page, ".order")[0]);
        [
            heads.iter().any(|head| head == "planned"),
            drawn.contains("plan "),
            keys,
            order.contains("against the same plan"),
        ]
    };
    assert_eq!(run(&["--plan", "plan.yaml"]), [true; 4]);
    assert_eq!(run(&["--fitted", "192 GiB"]), [false; 4]);
    assert_eq!(run(&[]), [false; 4]);
}

/// Where findings call for no hand movement, paper says what to look into, and not that all is well.
#[test]
fn findings_without_steps_are_on_paper() {
    let pallet = fixture::path("fixtures/pallet");
    let audit = |bay: &str| {
        let listing = format!("listings/{bay}.txt");
        both(&["audit", &listing, "--plan", "plans/kestrel.yaml"], &pallet)
    };
    let (json, page) = audit("bay42");
    let order = text_of(all(&page, ".order")[0]);
    assert!(!order.contains("Nothing that hands can mend"), "{order}");
    let findings = json["findings"].as_array().unwrap();
    assert!(findings.len() > 3);
    for finding in findings {
        let summary = finding["summary"].as_str().unwrap();
        assert!(order.contains(summary), "{order}: {summary}");
    }
    // Without a listing of them these are drawn and marked all the same.
    let drawn = |look: &str| all(&page, &format!("a.slot.{look}.unproven")).len();
    assert_eq!((drawn("lost"), drawn("empty")), (2, 1));
    let (_, page) = audit("bay01");
    assert!(text_of(all(&page, ".order")[0]).contains("Nothing that hands can mend"));
}

/// The mark of a page is that of the exit code: nothing unproven or empty looks good.
#[test]
fn marks_of_pages_follow_the_exit_code() {
    let pallet = fixture::path("fixtures/pallet");
    let empty = tempfile::tempdir().unwrap();
    let empty = empty.path().to_str().unwrap();
    for (arguments, code, mark) in [
        (vec!["diagnose", "listings/bay14.txt", "--plan", "plans/kestrel.yaml"], 3, "unproven"),
        (vec!["diagnose", "listings/bay01.txt", "--plan", "plans/kestrel.yaml"], 0, "good"),
        (vec!["audit", "listings/bay14.txt", "--plan", "plans/kestrel.yaml"], 3, "unproven"),
        (vec!["fleet", "listings/bay14.txt", "--plans", "plans"], 3, "unproven"),
        (vec!["fleet", "listings/bay01.txt", "--plans", "plans"], 0, "good"),
        (vec!["fleet", "listings/bay02.txt", "--plans", "plans"], 1, "fault"),
        (vec!["fleet", empty, "--plans", "plans"], 2, "fault"),
    ] {
        let run =
            asfitted().current_dir(&pallet).args(&arguments).args(["--format", "html"]).assert().code(code);
        let page = Html::parse_document(&stdout(&run));
        let verdict = all(&page, ".verdict")[0];
        assert!(verdict.value().classes().any(|class| class == mark), "{arguments:?}: {:?}", verdict.value());
    }
}

#[test]
fn a_page_of_a_comparison_has_every_change() {
    let pallet = fixture::path("fixtures/pallet");
    for (before, after) in [
        ("listings/bay01.txt", "listings/bay04.txt"),
        ("listings/bay01.txt", "listings/bay05.txt"),
        ("listings/bay01.txt", "listings/bay01.txt"),
        ("plans/kestrel.yaml", "listings/bay12.txt"),
    ] {
        let (json, page) = both(&["compare", before, after], &pallet);
        let changes = json["changes"].as_array().unwrap();
        let bodies = all(&page, "tbody[data-change]");
        assert_eq!(bodies.len(), changes.len());
        for (change, body) in changes.iter().zip(bodies) {
            assert_eq!(body.value().attr("data-change"), change["change"].as_str());
            let rows: Vec<String> = body.select(&select("tr")).map(|row| cells(row).join(" ")).collect();
            let fields = change["fields"].as_array().unwrap();
            assert_eq!(rows.len(), fields.len());
            assert!(rows[0].starts_with(change["slot"].as_str().unwrap()));
            for (field, row) in fields.iter().zip(rows) {
                let empty =
                    |key: &str| fields.iter().any(|field| field["field"] == "state" && field[key] == "empty");
                let none = |key: &str| if empty(key) { "none" } else { "not stated" };
                let side = |key: &str| field[key].as_str().unwrap_or(none(key)).to_owned();
                let end =
                    format!("{} {} {}", field["field"].as_str().unwrap(), side("before"), side("after"));
                assert!(row.ends_with(&end), "{row}: {end}");
            }
        }
        let marked = all(&page, "a.slot").len();
        let unlisted = changes.iter().filter(|change| change["change"] == "unlisted").count();
        assert!(marked + unlisted >= changes.len());
    }
}

/// The data that the page's script reads.
fn embedded(page: &Html, id: &str) -> Vec<Value> {
    let script = all(page, &format!("script#{id}"))[0];
    serde_json::from_str(&script.text().collect::<String>()).unwrap()
}

#[test]
fn pages_of_a_fleet_say_what_its_json_says() {
    let pallet = fixture::path("fixtures/pallet");
    let work = tempfile::tempdir().unwrap();
    let fleet = ["fleet", "listings", "--plans", "plans", "--stock", "stock.csv", "--format"];
    let output = asfitted().current_dir(&pallet).args(fleet).arg("json").assert().code(2);
    let lines: Vec<Value> = stdout(&output).lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    let pages = work.path().join("pages");
    asfitted().current_dir(&pallet).args(fleet).arg("html").arg("--output").arg(&pages).assert().code(2);
    let overview = Html::parse_document(&std::fs::read_to_string(pages.join("index.html")).unwrap());
    let (whole, hosts) = lines.split_last().unwrap();
    let rows = embedded(&overview, "hosts-data");
    assert_eq!(rows.len(), hosts.len());
    for (at, (row, host)) in rows.iter().zip(hosts).enumerate() {
        assert_eq!(row["name"], host["listing"]["name"]);
        let own = std::fs::read_to_string(pages.join(format!("hosts/{:06}.html", at + 1))).unwrap();
        let own = Html::parse_document(&own);
        if host["format"] == "asfitted.not-audited" {
            assert_eq!((&row["outcome"], &row["reason"]), (&json!("not-audited"), &host["reason"]));
            assert!(text_of(all(&own, "main")[0]).contains(host["reason"].as_str().unwrap()));
            continue;
        }
        assert_eq!(row["outcome"], host["verdict"]);
        assert_eq!(row["detected"], host["totals"]["detected_bytes"]);
        let facts = |finding: &Value, slots: String| {
            (finding["kind"].clone(), finding["severity"].clone(), slots, finding["summary"].clone())
        };
        let shown: Vec<_> = row["findings"]
            .as_array()
            .unwrap()
            .iter()
            .map(|f| facts(f, f["slots"].as_str().unwrap().to_owned()))
            .collect();
        let wanted: Vec<_> = host["findings"]
            .as_array()
            .unwrap()
            .iter()
            .map(|f| facts(f, strings(f, "slots").join(", ")))
            .collect();
        assert_eq!(shown, wanted);
        let name = host["listing"]["name"].as_str().unwrap();
        same_findings(host, &own, name);
        same_slots(host, &own, name);
    }
    assert_eq!(Value::from(embedded(&overview, "modules-data")), whole["stock"]["findings"]);
    let main = text_of(all(&overview, "main")[0]);
    for kind in whole["kinds"].as_array().unwrap() {
        let row = [
            kind["kind"].as_str().unwrap().to_owned(),
            kind["findings"].to_string(),
            kind["hosts"].to_string(),
        ];
        assert!(all(&overview, "tbody tr").into_iter().any(|own| cells(own) == row), "{row:?}");
    }
    // How often each slot is at fault, counted anew from the lines.
    let faulty = |slot: &str, product: &str| {
        let here = |host: &&Value| {
            host["machine"]["product"] == product
                && host["findings"].as_array().unwrap().iter().any(|f| {
                    f["severity"] == "fault"
                        && !["clocked-down", "ecc-off"].contains(&f["kind"].as_str().unwrap())
                        && strings(f, "slots").contains(&slot)
                })
        };
        hosts.iter().filter(here).count()
    };
    for (product, machines) in [("Kestrel Twin", 23), ("Plover One", 18)] {
        assert!(main.contains(&format!("{product}, {machines} machines")), "{main}");
    }
    let says = |slot: &str, count: usize, machines: usize| {
        let label = format!("{slot}: at fault on {count} of {machines} machines");
        all(&overview, "g.slot").iter().any(|g| g.value().attr("aria-label").unwrap().ends_with(&label))
    };
    for (slot, product, machines) in
        [("s1.c3.p1", "Plover One", 18), ("s1.c1.p1", "Plover One", 18), ("s2.c1.p3", "Kestrel Twin", 23)]
    {
        assert!(says(slot, faulty(slot, product), machines), "{slot} {}", faulty(slot, product));
    }
    assert_eq!(faulty("s1.c3.p1", "Plover One"), 3);
    // A folder with something in it is left alone; a name that ends as a page does is one page.
    let again = asfitted().current_dir(&pallet).args(fleet).arg("html").arg("--output").arg(&pages).assert();
    assert!(stderr(&again.code(2)).contains("is there already and not empty"));
    let one = work.path().join("one.html");
    asfitted().current_dir(&pallet).args(fleet).arg("html").arg("--output").arg(&one).assert().code(2);
    let printed = asfitted().current_dir(&pallet).args(fleet).arg("html").assert().code(2);
    assert_eq!(std::fs::read(&one).unwrap(), printed.get_output().stdout);
    assert!(!stdout(&printed).contains("data-pages"));
}

/// With an earlier run beside it, the table has what changed, says so, and the boards are those of all hosts.
#[test]
fn a_page_of_changes_says_what_it_has() {
    let pallet = fixture::path("fixtures/pallet");
    let work = tempfile::tempdir().unwrap();
    let before = work.path().join("before.jsonl");
    let fleet = ["fleet", "listings", "--plans", "plans"];
    asfitted().current_dir(&pallet).args(fleet).arg("--json-lines").arg(&before).assert().code(2);
    let mut run = asfitted();
    run.current_dir(&pallet).args(fleet).arg("--baseline").arg(&before);
    let run = run.args(["--format", "html"]).assert().code(2);
    let page = Html::parse_document(&stdout(&run));
    assert!(embedded(&page, "hosts-data").is_empty());
    assert_eq!(text_of(all(&page, "#hosts")[0]), "Hosts that are new or different");
    let drawn: Vec<String> = all(&page, "figcaption").into_iter().map(text_of).collect();
    assert!(!drawn.is_empty() && drawn.iter().all(|title| !title.contains("without")), "{drawn:?}");
}

/// A board is drawn from all machines of its product: the first one's listing may be cut.
#[test]
fn boards_of_a_fleet_are_whole() {
    let pallet = fixture::path("fixtures/pallet");
    let work = tempfile::tempdir().unwrap();
    let whole = std::fs::read_to_string(pallet.join("listings/bay02.txt")).unwrap();
    let drawn = |first: &str, second: &str| {
        std::fs::write(work.path().join("a.txt"), first).unwrap();
        std::fs::write(work.path().join("b.txt"), second.replace("WM", "XM")).unwrap();
        let run = asfitted()
            .current_dir(&pallet)
            .args(["fleet", "--plans", "plans/kestrel.yaml", "--format", "html"])
            .arg(work.path())
            .assert();
        let page = Html::parse_document(&stdout(&run));
        let titles: Vec<String> = all(&page, "figcaption").into_iter().map(text_of).collect();
        (titles, all(&page, ".board .label").into_iter().map(text_of).collect::<Vec<_>>())
    };
    let cut = whole.find("Locator: s1.c2.p1").unwrap();
    let cut = whole[..cut].rfind("Handle").unwrap();
    let (titles, slots) = drawn(&whole[..cut], &whole);
    assert_eq!(titles, ["socket 1", "socket 2"]);
    assert_eq!(slots.len(), 18);
    assert!(slots.is_sorted(), "{slots:?}");
    assert_eq!(drawn(&whole, &whole[..cut]), (titles, slots));
}

/// A run that fails leaves no folder behind, so that it can be repeated.
#[test]
#[cfg(unix)]
fn a_failed_run_leaves_no_folder() {
    let pallet = fixture::path("fixtures/pallet");
    let work = tempfile::tempdir().unwrap();
    let run = |table: &str, folder: &str| {
        asfitted()
            .current_dir(&pallet)
            .args([
                "fleet",
                "listings",
                "--plans",
                "plans",
                "--format",
                "html",
                "--hosts-table",
                table,
                "--output",
            ])
            .arg(work.path().join(folder))
            .assert()
            .code(2)
    };
    // Before anything is read, and in the middle.
    assert!(stderr(&run("/nonexistent/table.csv", "new")).contains("cannot be written"));
    assert!(stderr(&run("/dev/full", "new")).contains("cannot be written"));
    assert!(!work.path().join("new").exists());
    std::fs::create_dir(work.path().join("old")).unwrap();
    run("/dev/full", "old");
    assert_eq!(std::fs::read_dir(work.path().join("old")).unwrap().count(), 0);
    run("/dev/null", "new");
    assert!(work.path().join("new/hosts/000044.html").exists());
}

/// Pages that stand among the listings are none.
#[test]
fn a_folder_of_pages_is_not_audited() {
    let work = tempfile::tempdir().unwrap();
    let listing = fixture::path("fixtures/pallet/listings/bay01.txt");
    std::fs::copy(listing, work.path().join("bay01.txt")).unwrap();
    let plans = fixture::path("fixtures/pallet/plans");
    let run = asfitted()
        .current_dir(work.path())
        .args(["fleet", ".", "--format", "html", "--output", "pages", "--plans"])
        .arg(plans)
        .assert();
    run.code(0);
    let overview = std::fs::read_to_string(work.path().join("pages/index.html")).unwrap();
    assert_eq!(embedded(&Html::parse_document(&overview), "hosts-data").len(), 1);
}

#[test]
fn commands_without_a_page_say_so() {
    let bench = Bench::new();
    for arguments in [
        vec!["plan", "from", "listing.txt"],
        vec!["boards", "list"],
        vec!["capture", "--root", "/nonexistent"],
        vec!["demo", "--files", "elsewhere"],
    ] {
        let run = asfitted().current_dir(bench.path("")).args(&arguments).args(["--format", "html"]).assert();
        let run = run.code(2).stdout("");
        assert!(stderr(&run).contains("a command that has no page"), "{arguments:?}");
    }
    assert!(!bench.path("elsewhere").exists());
}

/// A listing of two sockets, eight channels each, three slots each.
fn large(size: impl Fn(usize) -> &'static str) -> String {
    let mut out = String::from(
        "# dmidecode 3.3\nSMBIOS 3.2.0 present.\n\nHandle 0x0001, DMI type 1, 27 bytes\nSystem Information\n\tManufacturer: Wetherlam Works\n\tProduct Name: Heron Two\n\tSerial Number: WT-9001\n\n",
    );
    for at in 0..48 {
        let slot = format!("s{}.c{}.p{}", at / 24 + 1, at % 24 / 3 + 1, at % 3 + 1);
        let _ = write!(
            out,
            "Handle 0x{:04X}, DMI type 17, 84 bytes\nMemory Device\n\tTotal Width: 72 bits\n\tData Width: 64 bits\n\tSize: {}\n\tLocator: {slot}\n\tType: DDR4\n\tType Detail: Synchronous Registered (Buffered)\n\tSpeed: 2933 MT/s\n\tManufacturer: Wetherlam\n\tSerial Number: WM90{at:04}\n\tPart Number: WH64-2R4-2933{at:02}\n\tRank: 2\n\tConfigured Memory Speed: 2666 MT/s\n\n",
            0x30 + at,
            size(at)
        );
    }
    out + "Handle 0x00FF, DMI type 127, 4 bytes\nEnd Of Table\n\n"
}

/// 200 KB for 48 slots, as the worst machine has: each slot with a fault of its own, and all of them slow.
#[test]
fn pages_stay_small() {
    let bench = Bench::new();
    bench.write("good.txt", large(|_| "64 GB"));
    bench.write("bad.txt", large(|at| ["No Module Installed", "32 GB", "16 GB"][at % 3]));
    asfitted()
        .current_dir(bench.path(""))
        .args(["plan", "from", "good.txt", "--output", "good.yaml"])
        .assert()
        .code(0);
    let plan = bench.read("good.yaml").replace("2666", "2933");
    bench.write("good.yaml", plan);
    let (json, page) = both(&["audit", "bad.txt", "--plan", "good.yaml"], &bench.path(""));
    assert!(
        json["findings"].as_array().unwrap().len() >= 48,
        "{}",
        json["findings"].as_array().unwrap().len()
    );
    same_findings(&json, &page, "48 faults");
    for arguments in [
        vec!["audit", "bad.txt", "--plan", "good.yaml"],
        vec!["diagnose", "bad.txt", "--plan", "good.yaml"],
        vec!["show", "bad.txt"],
        vec!["compare", "good.txt", "bad.txt"],
    ] {
        let output = asfitted()
            .current_dir(bench.path(""))
            .args(&arguments)
            .args(["--format", "html"])
            .output()
            .unwrap();
        println!("{}: {} bytes", arguments[0], output.stdout.len());
        assert!((10_000..200_000).contains(&output.stdout.len()), "{arguments:?}: {}", output.stdout.len());
    }
}

/// What someone may put into a field: markup, script, handlers, entities, and characters that are obeyed.
const HOSTILE: &[&str] = &[
    "<script>hostile()</script>",
    "\"><img src=x onerror=hostile()>",
    "' onmouseover='hostile()",
    "</script><script>hostile()</script>",
    "</style></svg></title><script>hostile()</script>",
    "&lt;b&gt;&amp;&#60;&quot;",
    "javascript:hostile()",
    "<!--<![CDATA[ ]]>-->",
    "${hostile()}{{hostile()}}",
    "\u{202e}gnp\u{200b}\u{1b}[31m\u{9b}end",
];

/// As it must be seen.
fn seen(text: &str) -> String {
    asfitted::report::sanitize(text).into_owned()
}

fn hostile_listing() -> String {
    let first = HOSTILE[0];
    let mut out = format!(
        "# dmidecode 3.3\nSMBIOS 3.2.0 present.\n\nHandle 0x0001, DMI type 1, 27 bytes\nSystem Information\n\tManufacturer: {first}\n\tProduct Name: {}\n\tSerial Number: {}\n\n",
        HOSTILE[3], HOSTILE[1]
    );
    for (at, text) in HOSTILE.iter().enumerate() {
        let _ = write!(
            out,
            "Handle 0x{:04X}, DMI type 17, 84 bytes\nMemory Device\n\tSize: 16 GB\n\tLocator: {text}\n\tBank Locator: {text}\n\tType: DDR4\n\tSpeed: 2933 MT/s\n\tManufacturer: {text}\n\tSerial Number: S{at} {text}\n\tAsset Tag: {text}\n\tPart Number: P{at} {text}\n\tRank: 2\n\tConfigured Memory Speed: 2666 MT/s\n\n",
            0x30 + at
        );
    }
    out + "Handle 0x00FF, DMI type 127, 4 bytes\nEnd Of Table\n\n"
}

/// A listing in which every field of every record that is read holds hostile text, but for the names of slots and machine,
/// by which the plan finds them.
fn hostile_fields() -> String {
    let mut text = 0;
    let mut hostile = || {
        text += 1;
        HOSTILE[text % HOSTILE.len()]
    };
    let lines = large(|_| "64 GB");
    let more = "Handle 0x0100, DMI type 2, 15 bytes\nBase Board Information\n\tManufacturer: x\n\tProduct Name: x\n\tSerial Number: x\n\tAsset Tag: x\n\nHandle 0x0101, DMI type 4, 42 bytes\nProcessor Information\n\tSocket Designation: x\n\tVersion: x\n\tStatus: x\n\nHandle 0x0102, DMI type 16, 23 bytes\nPhysical Memory Array\n\tLocation: x\n\tUse: System Memory\n\tError Correction Type: x\n\tMaximum Capacity: x\n\tNumber Of Devices: x\n\nHandle 0x0103, DMI type 19, 31 bytes\nMemory Array Mapped Address\n\tStarting Address: x\n\tEnding Address: x\n\n";
    let all = lines.replace("Handle 0x00FF", &format!("{more}Handle 0x00FF"));
    let hostile_line = |line: &str| match line.split_once(": ") {
        Some((key, _)) if line.starts_with('\t') && !["\tUse", "\tLocator"].contains(&key) => {
            format!("{key}: {}", hostile())
        }
        _ => line.to_owned(),
    };
    let (machine, rest) = all.split_at(all.find("Handle 0x0030").unwrap());
    machine.lines().map(str::to_owned).chain(rest.lines().map(hostile_line)).collect::<Vec<_>>().join("\n")
        + "\n"
}

/// Writes hostile pages; gives what must be seen on each.
fn write_hostile(folder: &Path, bench: &Bench) -> Value {
    let here = bench.path("");
    bench.write("hostile.txt", hostile_listing());
    asfitted()
        .current_dir(&here)
        .args(["plan", "from", "hostile.txt", "--output", "hostile.yaml"])
        .assert()
        .code(0);
    // Half of the modules are gone, so that planned texts are in findings and steps.
    let mut count = 0;
    let lines: Vec<String> = hostile_listing()
        .lines()
        .map(|line| {
            count += usize::from(line.starts_with("\tSize"));
            if line.starts_with("\tSize") && count % 2 == 0 {
                "\tSize: No Module Installed".to_owned()
            } else {
                line.to_owned()
            }
        })
        .collect();
    bench.write("changed.txt", lines.join("\n") + "\n");
    let page = |arguments: &[&str], name: &str| {
        let run = asfitted()
            .current_dir(&here)
            .args(arguments)
            .args(["--format", "html", "--output"])
            .arg(folder.join(name))
            .output()
            .unwrap();
        assert_ne!(run.status.code(), Some(2), "{}", String::from_utf8_lossy(&run.stderr));
    };
    page(&["audit", "changed.txt", "--plan", "hostile.yaml"], "hostile-audit.html");
    page(&["diagnose", "changed.txt", "--plan", "hostile.yaml"], "hostile-diagnose.html");
    page(&["show", "hostile.txt"], "hostile-show.html");
    page(&["compare", "hostile.txt", "changed.txt"], "hostile-compare.html");
    bench.write("fields.txt", hostile_fields());
    bench.write("large.txt", large(|_| "64 GB"));
    asfitted()
        .current_dir(&here)
        .args(["plan", "from", "large.txt", "--output", "large.yaml"])
        .assert()
        .code(0);
    page(&["audit", "fields.txt", "--plan", "large.yaml"], "hostile-fields.html");
    page(&["show", "fields.txt"], "hostile-fields-show.html");
    let mut lines = String::new();
    for text in HOSTILE {
        let listing = if text.len() % 2 == 0 { hostile_listing() } else { bench.read("changed.txt") };
        let _ = writeln!(lines, "{}", json!({"host": text, "listing": listing}));
    }
    let _ = writeln!(lines, "{}", json!({"host": "unreadable <b>", "listing": "nothing"}));
    let mut stock = String::from("serial,part,label,host\n");
    for text in HOSTILE {
        let quoted = format!("\"{}\"", text.replace('"', "\"\""));
        let _ = writeln!(stock, "{quoted},{quoted},{quoted},{quoted}");
    }
    bench.write("hostile.csv", stock);
    let manifest: String =
        HOSTILE.iter().map(|text| format!("\"{}\",hostile\n", text.replace('"', "\"\""))).collect();
    bench.write("manifest.csv", format!("host,plan\n{manifest}"));
    let run = asfitted()
        .current_dir(&here)
        .args([
            "fleet",
            "-",
            "--plans",
            "hostile.yaml",
            "--stock",
            "hostile.csv",
            "--manifest",
            "manifest.csv",
        ])
        .args(["--format", "html", "--output"])
        .arg(folder.join("hostile"))
        .write_stdin(lines)
        .assert();
    run.code(2);
    let texts: Vec<String> = HOSTILE.iter().map(|text| seen(text)).collect();
    json!({
        "hostile-audit.html": texts, "hostile-diagnose.html": texts, "hostile-show.html": texts,
        "hostile-compare.html": texts, "hostile/index.html": texts, "hostile/hosts/000001.html": texts,
    })
}

/// All pages that the browser looks at.
fn write_pages(folder: &Path) {
    let bench = Bench::new();
    let here = bench.path("");
    let pallet = fixture::path("fixtures/pallet");
    let page = |at: &Path, arguments: &[&str], name: &str| {
        let run = asfitted()
            .current_dir(at)
            .args(arguments)
            .args(["--format", "html", "--output"])
            .arg(folder.join(name))
            .output()
            .unwrap();
        assert!(folder.join(name).exists(), "{}", String::from_utf8_lossy(&run.stderr));
    };
    page(&here, &["demo"], "demo.html");
    page(&here, &["show", "listing.txt"], "show.html");
    page(&here, &["diagnose", "listing.txt", "--fitted", "12 x 16GB 2Rx4 PC3L-10600R"], "diagnose.html");
    page(&pallet, &["audit", "listings/bay20.capture", "--plan", "plans/kestrel.yaml"], "capture.html");
    page(&pallet, &["audit", "listings/bay01.txt", "--plan", "plans/kestrel.yaml"], "good.html");
    page(&pallet, &["audit", "listings/bay14.txt", "--plan", "plans/kestrel.yaml"], "open.html");
    page(&pallet, &["compare", "listings/bay01.txt", "listings/bay04.txt"], "compare.html");
    page(&pallet, &["fleet", "listings", "--plans", "plans", "--stock", "stock.csv"], "pallet");
    bench.write("full.txt", large(|_| "64 GB"));
    bench.write("two.txt", large(|at| if at % 25 == 5 { "32 GB" } else { "64 GB" }));
    asfitted()
        .current_dir(&here)
        .args(["plan", "from", "full.txt", "--output", "full.yaml"])
        .assert()
        .code(0);
    page(&here, &["audit", "two.txt", "--plan", "full.yaml"], "large.html");
    // Real labels of several families, among them one without any proven place.
    let mut families: Vec<(usize, &str)> = Vec::new();
    for text in fixture::listings() {
        let listing = &asfitted::records::read(text)[0];
        let population = asfitted::population::rebuild(listing);
        let slots = population.slots.len();
        let proven = population.slots.iter().filter(|slot| slot.location.channel.is_some()).count();
        let family = usize::from(proven == slots) * 2 + usize::from(proven > 0) + slots / 16 * 4;
        if slots > 3 && !families.iter().any(|(own, _)| *own == family) {
            families.push((family, text.name()));
            bench.write("real.txt", text.as_str());
            page(&here, &["show", "real.txt"], &format!("real-{}.html", families.len()));
        }
    }
    assert!(families.len() >= 6, "{families:?}");
    let one = std::fs::read_to_string(pallet.join("listings/bay01.txt")).unwrap();
    let two = std::fs::read_to_string(pallet.join("listings/bay12.txt")).unwrap();
    let mut lines = String::new();
    for at in 0..10_000 {
        let listing = if at % 3 == 0 { &two } else { &one };
        // Serial numbers of their own, or every module would be a duplicate.
        let listing = listing.replace("WM", &format!("W{at}-"));
        let _ = writeln!(lines, "{}", json!({"host": format!("h{at:06}"), "listing": listing}));
    }
    let run = asfitted()
        .current_dir(&pallet)
        .args(["fleet", "-", "--plans", "plans/kestrel.yaml", "--format", "html", "--output"])
        .arg(folder.join("big.html"))
        .write_stdin(lines)
        .assert();
    run.code(1);
    let wanted = write_hostile(folder, &bench);
    std::fs::write(folder.join("hostile.json"), serde_json::to_vec(&wanted).unwrap()).unwrap();
}

/// Whether the browser's checks can run here; `ASFITTED_BROWSER=required`, as in CI, allows no excuse.
fn browser_missing() -> Option<&'static str> {
    let chromium = std::env::var("ASFITTED_CHROMIUM").unwrap_or_else(|_| "/usr/bin/chromium".to_owned());
    if !Path::new(&chromium).exists() {
        return Some("there is no Chromium (Debian's package `chromium`)");
    }
    if Process::new("node").arg("--version").output().is_err() {
        return Some("there is no Node.js");
    }
    if !fixture::path("tests/browser/node_modules").exists() {
        return Some("its libraries are not there: `npm ci --prefix tests/browser`");
    }
    None
}

/// Accessibility, policy, keyboard, touch, print, hostile text, in headless Chromium; see `tests/browser/check.mjs`.
#[test]
fn pages_hold_in_a_real_browser() {
    if let Some(reason) = browser_missing() {
        assert!(std::env::var_os("ASFITTED_BROWSER").is_none_or(|value| value != "required"), "{reason}");
        println!("SKIPPED, the pages were not opened in a browser: {reason}");
        return;
    }
    let work = tempfile::tempdir().unwrap();
    // To look at the pages afterwards: `ASFITTED_PAGES=FOLDER`, a new one.
    let folder = std::env::var_os("ASFITTED_PAGES").map_or_else(|| work.path().to_owned(), Into::into);
    std::fs::create_dir_all(&folder).unwrap();
    write_pages(&folder);
    let script = fixture::path("tests/browser/check.mjs");
    let output = Process::new("node").arg(script).arg(&folder).output().unwrap();
    let said = String::from_utf8_lossy(&output.stdout);
    let failed: Vec<&str> = said.lines().filter(|line| !line.starts_with("ok ")).collect();
    println!("{}", failed.join("\n"));
    assert!(output.status.success(), "{}\n{}", failed.join("\n"), String::from_utf8_lossy(&output.stderr));
}
