/** How warm a feature that carries current may become. Pure. */

export const WARMTH = [
  { at: 'max_temperature_c', as: 'measured', unit: '°C' },
  { at: 'free_sides', as: 'whole' },
  { at: 'cover_m2k_per_w', as: 'plain' },
];
