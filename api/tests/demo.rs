//! The first command of the README: the demonstration runs from an empty directory to its end.

use std::process::Command;

#[test]
fn the_demonstration_does_the_main_job_to_its_end() {
    let home = std::env::temp_dir().join(format!("wearcourse-demo-{}", std::process::id()));
    std::fs::create_dir_all(&home).expect("a directory");
    let done = Command::new(env!("CARGO_BIN_EXE_wearcourse"))
        .args(["demo", "--once", "--port", "0"])
        .current_dir(&home)
        .output()
        .expect("the program runs");
    let told = String::from_utf8_lossy(&done.stdout);
    let complained = String::from_utf8_lossy(&done.stderr);
    assert!(done.status.success(), "{told}\n{complained}");
    for part in [
        "What was considered",
        "Before it is handed over",
        "Where the figures come from",
    ] {
        assert!(told.contains(part), "{part} is not told of");
    }
    let left = std::fs::read_dir(&home).expect("a directory").count();
    assert_eq!(left, 0, "something was left behind");
    std::fs::remove_dir(&home).expect("an empty directory");
}
