//! Audits a folder of listings against a folder of plans and writes a table of hosts to standard output.
//!
//! ```sh
//! cargo run --example fleet -- fixtures/pallet/listings fixtures/pallet/plans > hosts.csv
//! ```

use std::error::Error;
use std::fs;
use std::path::PathBuf;

use asfitted::fleet::{Fleet, Inputs, Limits, LoadedPlan, Manifest, Plans};
use asfitted::plan;
use asfitted::report::fleet::{FleetReport, HostView, HostsTable, Outputs};

fn main() -> Result<(), Box<dyn Error>> {
    let mut arguments = std::env::args_os().skip(1).map(PathBuf::from);
    let (Some(listings), Some(plans), None) = (arguments.next(), arguments.next(), arguments.next()) else {
        return Err("expected a folder of listings and a folder of plans".into());
    };

    let mut loaded = Vec::new();
    for entry in fs::read_dir(plans)? {
        let path = entry?.path();
        let plan = plan::read(&path.display().to_string(), &fs::read_to_string(&path)?)?;
        loaded.push(LoadedPlan { plan, board: None });
    }
    let plans = Plans::new(loaded, Manifest::default());

    let mut outputs = Outputs::default();
    let waiting = Box::new(std::io::Cursor::new(Vec::new()));
    outputs.add(HostsTable::new(Box::new(std::io::stdout()), waiting)?);
    let renderers = outputs.renderers();
    let mut failed = None;
    let result = Fleet::new(&plans).run(
        Inputs::new(vec![listings], &[], Limits::default()),
        |host| renderers.render(&HostView::new(host)),
        |_, rendered| failed = failed.take().or(outputs.write(rendered).err()),
    );
    if let Some(error) = failed {
        return Err(error.into());
    }
    outputs.finish(&FleetReport::new(&result))?;
    Ok(())
}
