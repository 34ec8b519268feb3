use toile_model::electrostatics::*;
#[test]
fn zz_time() {
    let base = [Layer { thickness_m: 3e-3, relative_permittivity: 1.4 }];
    let over = [Layer { thickness_m: 1.2e-3, relative_permittivity: 1.4 }];
    let m = Medium { ground: Ground::Plane, base: &base, overlay: &over };
    let c = |x: f64| Conductor {
        figure: Figure::Round { diameter_m: 24e-3 },
        rows: None,
        centre_m: [x, 0.0],
        rotation_rad: 0.0,
        on_top: false,
    };
    for n in [2usize, 3, 4, 5] {
        for tol in [1e-3, 1e-2, 5e-2] {
            let cs: Vec<_> = (0..n).map(|k| c(0.04 * k as f64)).collect();
            let t = std::time::Instant::now();
            let f = felt_beside(&m, &cs, n - 1, &vec![vec![]; n], 9e-3, 0.0, tol).unwrap();
            println!("ZZ n {n} tol {tol:e} {:?} {:e} {:e}", t.elapsed(), f[0].0[0], f[0].1);
        }
    }
    for tol in [1e-2, 1e-3, 1e-4] {
        let t = std::time::Instant::now();
        let l = field::line(&m, CrossSection::Thread { diameter_m: 0.4e-3 }, tol).unwrap();
        println!("ZZ thread tol {tol:e} {:?} {:e} {:e}", t.elapsed(), l.per_m_f, l.relative_error);
        let t = std::time::Instant::now();
        let l = line_capacitance(&m, CrossSection::Thread { diameter_m: 0.4e-3 });
        println!("ZZ closed {:?} {:e} {:e}", t.elapsed(), l.per_m_f, l.accuracy.relative_error);
        let t = std::time::Instant::now();
        let q = TouchedPad {
            figure: &Figure::Round { diameter_m: 24e-3 },
            rows: None,
            finger_diameter_m: 9e-3,
            off_centre_m: 0.0,
            guard: None,
            opening_diameter_m: None,
        };
        let s = solved_touch(&m, &q, tol).unwrap();
        println!("ZZ touch {:?} {:e} {:e} {:e}", t.elapsed(), s.pad_error, s.finger_error, s.way_error);
    }
}
