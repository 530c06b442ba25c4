//! x
use motefall::jet::{grid::*, solver::*, field::*};
use motefall::droplet::track::*;
use motefall::head::taper::Taper;
use motefall::materials::gas::*;
use std::time::Instant;
fn flyer(f: Fineness, refinement: f64) -> Flyer {
    let gas = GasState::new(GasSpecies::Nitrogen, 298.15, 101325.0);
    let r = 75e-6; let q = 50e-6/60.0*1.0915; let u = q / (std::f64::consts::PI*r*r);
    let re = u*2.0*r*gas.density/gas.viscosity;
    let n = JetNumbers { reynolds: re, stand_off_ratio: 20.0, plug_blend: 0.0, surroundings: Surroundings::Open };
    let sol = solve(n, f).unwrap();
    println!("U {u:.1} Re {re:.0}");
    Flyer { field: Some(Field::new(&sol)), taper: Taper { inlet_radius: 10.0, slope: 15f64.to_radians().tan(), land: 2.0, plug_blend: 0.0 }, gas, nozzle_radius: r, exit_speed: u, core_share: 0.2, lift_factor: 0.0, refinement }
}
fn main() { table_check(); return;
#[allow(unreachable_code)]
    let a = flyer(Fineness::Standard, 1.0);
    let b = Flyer { refinement: 4.0, ..a.clone() };
    let c = flyer(Fineness::Fine, 1.0);
    for d in [0.1e-6, 0.3e-6, 0.4e-6, 0.5e-6, 0.7e-6, 1e-6, 1.5e-6, 2.5e-6, 4e-6, 8e-6] {
        let s = Sphere { diameter: d, density: 1050.0 };
        for q in [0.02, 0.3, 0.8, 1.0] {
            let p = |x: Arrival| match x { Arrival::Landed { radius, speed, .. } => format!("{:8.3} um {speed:5.1}", radius*1e6), o => format!("{o:?}        ") };
            println!("{:5.2} um q {q:4}: {} | {} | {}", d*1e6, p(a.fly(q, s)), p(b.fly(q, s)), p(c.fly(q, s)));
        }
    }
    let t = Instant::now(); let mut n = 0;
    for k in 0..2000 { if let Arrival::Landed{..} = a.fly((k as f64+0.5)/2000.0, Sphere{diameter: 2.5e-6, density: 1050.0}) { n += 1; } }
    println!("{n} landed, {:?} each", t.elapsed()/2000);
}
#[allow(dead_code)]
pub fn table_check() {
    use motefall::droplet::table::*;
    let a = flyer(Fineness::Standard, 1.0);
    let t = Instant::now();
    let table = LandingTable::new(&a, [0.05e-6, 15e-6], [1000.0, 2500.0]);
    println!("table {:?}", t.elapsed());
    for (d, s) in table.landing_shares().step_by(3) { print!("{:.3}:{:.4} ", d*1e6, s); }
    println!();
    // pseudo random droplets: lognormal d 1.2um gsd 1.8, density by mix
    let mut x = 12345u64; let mut u = || { x = x.wrapping_mul(6364136223846793005).wrapping_add(1442695040888963407); ((x >> 11) as f64) / (1u64<<53) as f64 };
    let (mut n, mut bad, mut worst, mut off) = (0, 0, 0.0f64, 0);
    let mut byd = vec![(0,0,0); 12];
    let t = Instant::now();
    for _ in 0..20000 {
        let z = (-2.0*u().ln()).sqrt()*(6.283185307*u()).cos();
        let d = 1.2e-6*(z*1.8f64.ln()).exp(); if d<0.05e-6||d>15e-6 {continue;}
        let rho = if u() < 0.7 {1030.0 + 100.0*u()} else {1000.0+1500.0*u()}; let q = u();
        n += 1; let b = ((d*1e6).log2()+5.0) as usize; byd[b].0+=1;
        match (a.fly(q, Sphere{diameter:d,density:rho}), table.find(q,d,rho)) {
            (Arrival::Landed{radius,..}, Found::Landed{offset,..}) => {
                let r = offset*q.sqrt(); let e=(r-radius).abs(); if e>0.25e-6 && e>0.01*radius.abs() { off+=1; byd[b].2+=1; worst=worst.max(e); if off%60==1 {println!("d {:.3} rho {rho:.0} q {q:.3} r {:.3} table {:.3}", d*1e6, radius*1e6, r*1e6);} } }
            (Arrival::Wall, Found::Wall)|(Arrival::Escaped,Found::Escaped) => {}
            _ => {bad+=1; byd[b].1+=1;}
        }
    }
    println!("{n}: fate differs {bad}, radius off {off} worst {:.2} um  {:?} each {byd:?}", worst*1e6, t.elapsed()/n);
    let t = Instant::now(); let mut s=0.0;
    for _ in 0..2000000 { let d=(0.5+4.0*u())*1e-6; if let Found::Landed{offset,..}=table.find(u(), d, 1050.0+100.0*u()) {s+=offset;} }
    println!("lookup {:?} {s}", t.elapsed()/2000000);
}
