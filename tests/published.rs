//! Comparison with published values, one file per source. Each file's header names author, year, title and conditions; the values
//! stand in `tests/data/` with their own source columns. Tolerances come from printed digits, from the scatter between accepted
//! relations or from the properties' uncertainty, as said beside them; none is tuned to pass.

mod common;

mod published {
    mod printed_line;
    mod table;

    mod aghajani_2022;
    mod bead_cap_geometry;
    mod cardy_1992;
    mod davies_1945;
    mod egerton_2011;
    mod electrode_worked;
    mod faraday;
    mod feller_1968;
    mod fuchs_1959;
    mod fuchs_sutugin_1971;
    mod graetz_1885;
    mod hall_1988;
    mod hatch_choate_1929;
    mod hinds_1999;
    mod homann_1936;
    mod iakoubovskii_2008;
    mod iso_9276_2;
    mod jennings_1988;
    mod lang_1962;
    mod mahajan_2013;
    mod marple_liu_1974;
    mod mcgarry_1983;
    mod mertens_moore_2012;
    mod pich_1972;
    mod pui_1987;
    mod rodes_1990;
    mod scheller_bousfield_1995;
    mod schiller_naumann_1933;
    mod schlichting_1933;
    mod sheath_focusing;
    mod solvents;
    mod sutherland_1893;
    mod thomson_1871;
    mod wald_wolfowitz_1946;
    mod wilson_1927;
}
