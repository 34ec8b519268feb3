use toile_model::electrostatics::field::*;
use toile_model::electrostatics::{Medium, Ground, Conductor, Figure, EPS0};
#[test]
fn zz_air() {
    let air = Medium { ground: Ground::None, base: &[], overlay: &[] };
    let l = Layers::new(&air, None);
    println!("ZZ {:?}", round_pad(&l, false, 10e-3, 1e-3).map(|p| p.capacitance_f / (8.0 * EPS0 * 10e-3)));
    let r = |d| Conductor { figure: Figure::Round { diameter_m: 20e-3 }, rows: None, centre_m: [d, 0.0], rotation_rad: 0.0, on_top: false };
    println!("ZZ {:?}", conductor_matrix(&air, &[r(0.0), r(0.03)], 1e-3).map(|p| p.maxwell_f));
    let ring = Conductor { figure: Figure::Ring { inner_diameter_m: 8e-3, outer_diameter_m: 20e-3 }, ..r(0.001) };
    println!("ZZ {:?}", conductor_matrix(&air, &[ring.clone()], 1e-2).map(|p| p.maxwell_f));
    for rot in [0.0, 0.3, std::f64::consts::FRAC_PI_2] { 
    println!("ZZ {:?}", charge_cells(&air, &Conductor { rotation_rad: rot, ..ring.clone() }).map(|p| p.len())); }
}
