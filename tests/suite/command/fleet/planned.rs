//! Hosts that are planned: without a listing, and by the names of their files.

use crate::util::command::{asfitted, json_lines};
use crate::util::pallet::{self, good};
use crate::util::path;

/// Two plans, one listing: the other host is a row, and nothing is proven of it.
#[test]
fn a_planned_host_without_a_listing_is_a_row() {
    let fleet = |extra: &[&str], code| {
        let mut command = asfitted();
        command.current_dir(path("fixtures/defects/fleet")).args(["fleet", "l", "--plans", "p"]).args(extra);
        command.assert().code(code).get_output().stdout.clone()
    };
    let text = String::from_utf8(fleet(&[], 3)).unwrap();
    assert!(
        text.starts_with("1 OF 2 MAY SHIP") && text.contains("found no listing of this planned host"),
        "{text}"
    );
    let lines = json_lines(&fleet(&["--format", "json"], 3));
    assert_eq!(
        (&lines[1]["format"], &lines[1]["listing"]["name"]),
        (&"asfitted.not-audited".into(), &"SYS2".into())
    );
    assert_eq!((&lines[2]["hosts"]["cannot_say"], &lines[2]["hosts"]["no_listing"]), (&1.into(), &1.into()));
    let text = String::from_utf8(fleet(&["--subset"], 0)).unwrap();
    assert!(text.starts_with("1 OF 1 MAY SHIP"), "{text}");
}

/// The same for a row of the manifest.
#[test]
fn a_row_of_the_manifest_without_a_listing_is_a_row() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("m.csv"), "host,plan\nh1,SYS1\nh9,SYS2\n").unwrap();
    let mut command = asfitted();
    command.current_dir(path("fixtures/defects/fleet")).args(["fleet", "l", "--plans", "p", "--manifest"]);
    let command = command.arg(folder.path().join("m.csv")).args(["--format", "json"]);
    let lines = json_lines(&command.assert().code(3).get_output().stdout);
    assert_eq!((lines.len(), &lines[1]["listing"]["name"]), (3, &"h9".into()));
}

/// `bay05.yaml` is the plan for `bay05.txt`; between several that fit, too; and never against what it says of its
/// machine.
#[test]
fn the_name_of_a_plan_is_the_last_resort() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    std::fs::create_dir_all(at("plans/other")).unwrap();
    std::fs::write(at("bay01.txt"), good()).unwrap();
    let kestrel = std::fs::read_to_string(pallet::folder().join("plans/kestrel.yaml")).unwrap();
    let fleet = |code| {
        let mut command = asfitted();
        command.current_dir(folder.path()).args([
            "fleet",
            "bay01.txt",
            "--plans",
            "plans",
            "--format",
            "json",
        ]);
        json_lines(&command.args(["--subset"]).assert().code(code).get_output().stdout)
    };
    let plan = |name: &str, machine: &str| {
        let text = kestrel.replace("machine: {product: Kestrel Twin}", machine);
        std::fs::write(at(name), text.replace("name: Kestrel Twin, 192 GiB", &format!("name: {name}")))
            .unwrap();
    };
    // Without a machine of its own.
    plan("plans/Bay01.yaml", "");
    plan("plans/bay02.yaml", "");
    assert_eq!(fleet(0)[0]["plan"]["name"], "plans/Bay01.yaml");
    // For a product that another plan is for as well.
    plan("plans/Bay01.yaml", "machine: {product: Kestrel Twin}");
    plan("plans/bay02.yaml", "machine: {product: Kestrel Twin}");
    assert_eq!(fleet(0)[0]["plan"]["name"], "plans/Bay01.yaml");
    // Two of that name.
    plan("plans/other/bay01.yaml", "machine: {product: Kestrel Twin}");
    assert!(fleet(2)[0]["reason"].as_str().unwrap().contains("found 2 plans for this machine"));
    // For another machine.
    std::fs::remove_dir_all(at("plans")).unwrap();
    std::fs::create_dir(at("plans")).unwrap();
    plan("plans/bay01.yaml", "machine: {serial: ANOTHER}");
    assert!(fleet(2)[0]["reason"].as_str().unwrap().contains("found no plan for this machine"));
}
