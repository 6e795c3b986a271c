//! Import of readings: what is read, and what is left out with its line.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use paint::{Defaults, Foil, Reading, Substrate, Unit, parse_csv, parse_foils, parse_study};
use units::Thickness;

#[track_caller]
fn check(text: &str, values_um: &[f64], rejected: &[(u64, &str)]) -> Vec<Reading> {
    let imported = parse_csv(text, &Defaults::default());
    let values: Vec<f64> = imported.readings.iter().map(|r| r.value.as_um()).collect();
    assert_eq!(values.len(), values_um.len(), "{imported:?}");
    for (found, expected) in values.iter().zip(values_um) {
        assert!((found - expected).abs() < 1e-9, "{values:?}");
    }
    assert_eq!(imported.rejected.len(), rejected.len(), "{:?}", imported.rejected);
    for (found, (line, words)) in imported.rejected.iter().zip(rejected) {
        assert_eq!(found.line, *line);
        assert!(found.reason.contains(words), "`{}` does not say `{words}`", found.reason);
    }
    imported.readings
}

#[test]
fn columns_in_any_order_with_options() {
    let r = check(
        "v,reading_um,Substrate,u,panel,gauge,repeat,clear_um,time,spot\n0.5,112.3,Aluminium,0.25,hood,A,2,48.5,10:05,h1\n",
        &[112.3],
        &[],
    );
    assert_eq!(r[0].at, Some((0.25, 0.5)));
    assert_eq!(r[0].substrate, Substrate::Aluminum);
    assert_eq!(r[0].clear, Some(Thickness::um(48.5)));
    assert_eq!((r[0].gauge.as_deref(), r[0].repeat, r[0].spot.as_deref()), (Some("A"), Some(2), Some("h1")));
}

#[test]
fn mils_are_exact() {
    // NIST SP 811: 1 mil = 25.4 µm exactly.
    check("panel,u,v,reading_mil\nhood,0,1,5\n", &[127.0], &[]);
}

#[test]
fn decimal_commas_between_semicolons_or_tabs() {
    check("panel;u;v;reading_um\nhood;0,25;0,5;112,3\n", &[112.3], &[]);
    check("panel\tu\tv\treading_um\nhood\t0,25\t0,5\t112,3\n", &[112.3], &[]);
    check("panel,u,v,reading_um\nhood,\"0,25\",\"0,5\",\"112,3\"\n", &[112.3], &[]);
}

#[test]
fn a_byte_order_mark_blank_lines_and_carriage_returns_do_no_harm() {
    check(
        "\u{feff}panel,u,v,reading_um\r\n\r\nhood,0,0,112\r\n,,,\r\nhood,1,1,114\r\n",
        &[112.0, 114.0],
        &[],
    );
}

#[test]
fn bad_rows_are_named_by_line_and_the_rest_is_kept() {
    check(
        "panel,u,v,reading_um,substrate\nhood,0.1,0.1,112,\nhood,1.2,0.1,113,\n,0.1,0.1,114,\nhood,0.1,0.1,thick,\nhood,0.1,0.1,-3,\nhood,0.1,,115,\nhood,0.1,0.1,116,wood\nhood,0.1,0.1,90000,\nhood,0.1\nhood,0.2,0.2,117,steel\n",
        &[112.0, 117.0],
        &[
            (3, "between 0 and 1"),
            (4, "no panel"),
            (5, "`thick` is not a number"),
            (6, "not above zero"),
            (7, "no v"),
            (8, "`wood`"),
            (9, "check the unit"),
            (10, "no v"),
        ],
    );
}

#[test]
fn decimal_commas_between_commas_are_told_apart() {
    check("panel,u,v,reading_um\nhood,0,25,0,5,112,3\n", &[], &[(2, "semicolons")]);
}

#[test]
fn a_header_that_cannot_be_used_is_an_answer() {
    check("", &[], &[(1, "empty")]);
    check("panel,u,v\nhood,0,0\n", &[], &[(1, "reading_um")]);
    check("u,v,reading_um\n0,0,1\n", &[], &[(1, "panel")]);
    check("panel,u,reading_um\nhood,0,1\n", &[], &[(1, "`u` and `v`")]);
    check("panel,reading_um,reading_mil\nhood,0,1\n", &[], &[(1, "more than one unit")]);
    check("panel,u,v,reading_um,u\nhood,0,0,1,2\n", &[], &[(1, "twice")]);
}

#[test]
fn places_may_be_missing_and_the_unit_may_come_from_outside() {
    let defaults = Defaults { unit: Unit::Mils, gauge: Some("B".into()), ..Defaults::default() };
    let imported = parse_csv("panel,reading\nhood,5\n", &defaults);
    assert_eq!(imported.readings[0].value, Thickness::mil(5.0));
    assert_eq!(imported.readings[0].at, None);
    assert_eq!(imported.readings[0].gauge.as_deref(), Some("B"));
}

#[test]
fn clear_coat_cannot_be_thicker_than_the_whole() {
    check("panel,reading_um,clear_um\nhood,50,110\n", &[], &[(2, "thicker than the total")]);
}

#[test]
fn every_reading_knows_its_line() {
    let imported = parse_csv("panel,reading_um\n\nhood,112\nhood,thick\nroof,113\n", &Defaults::default());
    assert_eq!(imported.lines, [3, 5]);
}

#[test]
fn foils_come_in_either_unit_and_bad_rows_are_named() {
    let (foils, rejected) = parse_foils("read_um;nominal_um\n123,5;122\n;50\n51;50\n");
    let foil = |nominal, read| Foil { nominal: Thickness::um(nominal), read: Thickness::um(read) };
    assert_eq!(foils, [foil(122.0, 123.5), foil(50.0, 51.0)]);
    assert_eq!((rejected.len(), rejected[0].line), (1, 3));
    assert!(rejected[0].reason.contains("no read"), "{rejected:?}");
    let (mils, _) = parse_foils("nominal_mil,read_mil\n5,5.1\n");
    assert_eq!(mils, [Foil { nominal: Thickness::mil(5.0), read: Thickness::mil(5.1) }]);
    assert!(parse_foils("nominal_um\n50\n").1[0].reason.contains("`read_um`"));
}

#[test]
fn a_study_names_who_read_what() {
    let (rows, rejected) = parse_study("part,operator,reading_um\na,Mei,120\na,,121\n,Mei,121\n");
    assert_eq!((rows.len(), rows[0].operator.as_str(), rows[0].part.as_str()), (1, "Mei", "a"));
    assert_eq!(rejected.iter().map(|r| r.line).collect::<Vec<_>>(), [3, 4]);
}
