//! Inputs so large that only reading them takes seconds.

use std::io::Write;
use std::time::{Duration, Instant};

use super::{reason, run};
use crate::util::archive::{gzip, tar_of};
use crate::util::pallet::good;

/// A file of one endless line, and archives that promise or hold far more than a listing.
#[test]
fn large_inputs_are_refused_and_skipped() {
    let folder = tempfile::tempdir().unwrap();
    // The file has holes; it takes no room on the disk.
    let file = std::fs::File::create(folder.path().join("line.txt")).unwrap();
    file.set_len(1 << 30).unwrap();
    std::fs::write(folder.path().join("ok.txt"), good()).unwrap();
    let started = Instant::now();
    let (code, lines) = run(folder.path());
    assert_eq!((code, reason(&lines, "ok.txt")), (2, "audited"));
    assert!(reason(&lines, "line.txt").contains("more than 16 MiB"));
    // By its own name it is read as a stream, which has no header either.
    let (_, lines) = run(&folder.path().join("line.txt"));
    assert!(reason(&lines, "line.txt").contains("more than 16 MiB"), "{lines:#?}");
    // A small archive with an entry of 4 GiB of zeros, and a good one behind it.
    let bomb = folder.path().join("bomb.tar.gz");
    let mut packed =
        flate2::write::GzEncoder::new(std::fs::File::create(&bomb).unwrap(), flate2::Compression::fast());
    let mut header = tar::Header::new_gnu();
    header.set_path("zeros").unwrap();
    header.set_size(1 << 30);
    header.set_cksum();
    packed.write_all(header.as_bytes()).unwrap();
    let zeros = vec![0u8; 1 << 20];
    for _ in 0..1024 {
        packed.write_all(&zeros).unwrap();
    }
    packed.write_all(&tar_of(&[("good.txt", &good())])).unwrap();
    packed.finish().unwrap();
    let (code, lines) = run(&bomb);
    assert_eq!((code, reason(&lines, "good.txt")), (2, "audited"));
    assert!(reason(&lines, "zeros").contains("more than 16 MiB"));
    // A listing that unpacks to more than any.
    let inner = gzip(&zeros.repeat(32));
    std::fs::write(folder.path().join("inner.tar"), tar_of(&[("bomb.gz", &inner), ("b.txt", &good())]))
        .unwrap();
    let (_, lines) = run(&folder.path().join("inner.tar"));
    assert!(reason(&lines, "bomb.gz").contains("more than 16 MiB"), "{lines:#?}");
    assert_eq!(reason(&lines, "b.txt"), "audited");
    assert!(started.elapsed() < Duration::from_mins(2), "something hangs");
}
