//! Fleets next to what they cannot beat, in one run: the corpus folder next to reading its files, a stream of
//! listings next to counting its lines, a million modules next to sorting their serial numbers.

#![expect(clippy::unwrap_used, reason = "a bench ends where it fails")]
#![expect(clippy::disallowed_methods, reason = "a bench writes its own inputs")]

use std::io::{BufReader, Read};
use std::path::{Path, PathBuf};
use std::sync::LazyLock;

use asfitted::audit::Severity;
use asfitted::fleet::{Fleet, Inputs, Limits, LoadedPlan, Manifest, Plans, Stock, Summary, cores};
use asfitted::plan;
use divan::Bencher;
use divan::counter::{BytesCount, ItemsCount};

fn main() {
    divan::main();
}

/// The corpus as a folder of files, and as one stream.
struct Corpus {
    folder: tempfile::TempDir,
    files: Vec<PathBuf>,
    stream: PathBuf,
    bytes: usize,
}

static CORPUS: LazyLock<Corpus> = LazyLock::new(|| {
    let archive = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/listings/server-listings.tar.xz");
    let mut tar = Vec::new();
    lzma_rs::xz_decompress(&mut BufReader::new(std::fs::File::open(archive).unwrap()), &mut tar).unwrap();
    let folder = tempfile::tempdir().unwrap();
    std::fs::create_dir(folder.path().join("listings")).unwrap();
    let (mut files, mut stream) = (Vec::new(), Vec::new());
    for entry in tar::Archive::new(tar.as_slice()).entries().unwrap() {
        let mut entry = entry.unwrap();
        let path = entry.path().unwrap().into_owned();
        if path.extension().is_some_and(|end| end == "txt") {
            let mut bytes = Vec::new();
            entry.read_to_end(&mut bytes).unwrap();
            let file = folder.path().join("listings").join(path.file_name().unwrap());
            std::fs::write(&file, &bytes).unwrap();
            files.push(file);
            stream.extend(bytes);
        }
    }
    files.sort();
    let path = folder.path().join("stream");
    std::fs::write(&path, &stream).unwrap();
    Corpus { folder, files, stream: path, bytes: stream.len() }
});

/// One plan for every host, by the manifest.
fn plans() -> Plans {
    let plan = plan::read("all.yaml", "expect: {ecc: on}\n").unwrap();
    let names = CORPUS.files.iter().map(|file| file.file_stem().unwrap().to_str().unwrap());
    let mut manifest = String::from("host,plan\n");
    manifest.extend(names.map(|name| format!("{name},all\n")));
    let manifest = Manifest::read("manifest", manifest.as_bytes()).unwrap();
    Plans::new(vec![LoadedPlan { plan, board: None }], manifest)
}

fn fleet(path: &Path, plans: &Plans) -> Summary {
    let inputs = Inputs::new(vec![path.to_owned()], &[], Limits::default());
    Fleet::new(plans).run(inputs, |_| (), |_, ()| ()).summary
}

#[divan::bench]
fn folder_read(bencher: Bencher) {
    let files = &CORPUS.files;
    let share = files.len().div_ceil(cores());
    bencher.counter(BytesCount::new(CORPUS.bytes)).bench_local(|| {
        std::thread::scope(|scope| {
            for share in files.chunks(share) {
                scope.spawn(move || {
                    for file in share {
                        divan::black_box(std::fs::read(file).unwrap());
                    }
                });
            }
        });
    });
}

#[divan::bench]
fn folder_audited(bencher: Bencher) {
    let plans = plans();
    let folder = CORPUS.folder.path().join("listings");
    bencher.counter(BytesCount::new(CORPUS.bytes)).bench_local(|| fleet(&folder, &plans));
}

#[divan::bench]
fn stream_lines_counted(bencher: Bencher) {
    bencher.counter(BytesCount::new(CORPUS.bytes)).bench_local(|| {
        let bytes = std::fs::read(&CORPUS.stream).unwrap();
        memchr::memchr_iter(b'\n', &bytes).count()
    });
}

#[divan::bench]
fn stream_audited(bencher: Bencher) {
    let plans = plans();
    bencher.counter(BytesCount::new(CORPUS.bytes)).bench_local(|| fleet(&CORPUS.stream, &plans));
}

/// A stock of so many modules.
const MODULES: u32 = 1_000_000;

/// Serial numbers in no order.
fn serials() -> Vec<String> {
    (0..MODULES).map(|number| format!("Z{:08X}", number.wrapping_mul(2_654_435_761))).collect()
}

#[divan::bench]
fn stock_serials_sorted(bencher: Bencher) {
    let serials = serials();
    bencher.counter(ItemsCount::new(MODULES)).with_inputs(|| serials.clone()).bench_local_values(
        |mut serials| {
            serials.sort();
            serials
        },
    );
}

#[divan::bench]
fn stock_reconciled(bencher: Bencher) {
    let mut table = String::from("serial,part,host\n");
    for (number, serial) in serials().into_iter().enumerate() {
        table.push_str(&format!("{serial},PL32-2R4-2666,bay{:06}\n", number % 100_000));
    }
    bencher.counter(ItemsCount::new(MODULES)).bench_local(|| {
        Stock::read("stock", table.as_bytes()).unwrap().reconcile().count_of(Severity::Fault)
    });
}
