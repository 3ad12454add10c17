//! The pages in a real browser.

use std::fmt::Write as _;
use std::path::Path;
use std::process::Command as Process;

use serde_json::json;

use super::hostile::write_hostile;
use super::size::large;
use crate::util::command::{Bench, asfitted};
use crate::util::{corpus, pallet, path};

/// All pages that the browser looks at.
fn write_pages(folder: &Path) {
    let bench = Bench::new();
    let here = bench.path("");
    let pallet = pallet::folder();
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
    write_real(&bench, folder);
    write_big(folder);
    let wanted = write_hostile(folder, &bench);
    std::fs::write(folder.join("hostile.json"), serde_json::to_vec(&wanted).unwrap()).unwrap();
}

/// Pages of real labels.
fn write_real(bench: &Bench, folder: &Path) {
    // Real labels of several families, among them one without any proven place.
    let mut families: Vec<(usize, &str)> = Vec::new();
    for text in corpus::listings() {
        let listing = &asfitted::records::read(text)[0];
        let population = asfitted::population::rebuild(listing);
        let slots = population.slots.len();
        let proven = population.slots.iter().filter(|slot| slot.location.channel.is_some()).count();
        let family = usize::from(proven == slots) * 2 + usize::from(proven > 0) + slots / 16 * 4;
        if slots > 3 && !families.iter().any(|(own, _)| *own == family) {
            families.push((family, text.name()));
            bench.write("real.txt", text.as_str());
            let page = folder.join(format!("real-{}.html", families.len()));
            let run = bench
                .asfitted()
                .args(["show", "real.txt", "--format", "html", "--output"])
                .arg(&page)
                .output();
            assert!(page.exists(), "{}", String::from_utf8_lossy(&run.unwrap().stderr));
        }
    }
    assert!(families.len() >= 6, "{families:?}");
}

/// A page of ten thousand hosts.
fn write_big(folder: &Path) {
    let pallet = pallet::folder();
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
    if !path("tests/browser/node_modules").exists() {
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
    let script = path("tests/browser/check.mjs");
    let output = Process::new("node").arg(script).arg(&folder).output().unwrap();
    let said = String::from_utf8_lossy(&output.stdout);
    let failed: Vec<&str> = said.lines().filter(|line| !line.starts_with("ok ")).collect();
    println!("{}", failed.join("\n"));
    assert!(output.status.success(), "{}\n{}", failed.join("\n"), String::from_utf8_lossy(&output.stderr));
}
