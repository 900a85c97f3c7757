use std::path::Path;
#[test]
fn the_demo_show_reads_clean() {
    let reading = bellwire::show::read(Path::new("demo-show"));
    for finding in &reading.findings {
        println!("{finding:#?}");
    }
    assert!(reading.findings.is_empty());
}
