//! x
use motefall::jet::{grid::*, solver::*, field::*};
use std::time::Instant;
fn main() {
    for f in [Fineness::Coarse, Fineness::Standard, Fineness::Fine] {
        let re = 400.0; let sd = 60.0/2.0;
        let n = JetNumbers { reynolds: re, stand_off_ratio: sd, plug_blend: 0.0, surroundings: Surroundings::Open };
        let t = Instant::now();
        let sol = solve(n, f).unwrap();
        let t = t.elapsed();
        let fld = Field::new(&sol);
        print!("{f:?} {t:?} ");
        // X = z nu/(U R^2) = z * 2/Re (z in R)
        for (x, want) in [(0.005,1.98),(0.02,1.918),(0.05,1.789),(0.1, f64::NAN),(0.2,1.224)] {
            let z = x*re/2.0; let g = fld.at(0.0, z, &mut Cell::default());
            print!(" {x}:{:.4}/{want}", g.axial);
        }
        println!();
    }
    // Homann: a = du_r/dr outside; du/dr shear at wall r->0:  tau = 1.31193769 * a^(3/2)/sqrt(nu) * r
    for f in [Fineness::Standard, Fineness::Fine] {
        let re = 600.0;
        let n = JetNumbers { reynolds: re, stand_off_ratio: 5.0, plug_blend: 1.0, surroundings: Surroundings::Wall };
        let t = Instant::now();
        let sol = solve(n, f).unwrap();
        let g = &sol.grid; let nr = g.s.len(); let nz=g.z.len();
        let fld = Field::new(&sol);
        let mut best=(0.0,0.0);
        for j in 0..nz { let z=g.z[j]; let w = fld.at(0.0,z,&mut Cell::default()).radial_over_r; if w>best.0 {best=(w,z);} }
        // zeta on the wall at axis = omega/r = du_r/dz /r = fpp0 a^1.5/sqrt(nu)
        let nu = 2.0/re; let zw = sol.zeta[(nz-1)*nr];
        println!("{f:?} {:?} a {:.4} at L-z {:.4} shear ratio {:.4} (want 1.3119)", t.elapsed(), best.0, g.stand_off()-best.1, zw/(best.0.powf(1.5)/nu.sqrt()));
    }
}
