// Makes psychrolib_table.csv: moist-air states computed by a library that is not ours.
//
// In an empty folder:
//   npm install --ignore-scripts psychrolib@1.1.1
//   node <repository>/tests/reference/make_table.js > <repository>/tests/reference/psychrolib_table.csv
//
// psychrolib (MIT) follows ASHRAE Fundamentals 2017 ch. 1: saturation after Hyland and Wexler, ideal
// gases. Below 0.01 C it switches to ice, so its dew point is then a frost point: the column
// dew_phase tells the two apart.
'use strict';

const psychrolib = require(require.resolve('psychrolib', {paths: [process.cwd()]}));
psychrolib.SetUnitSystem(psychrolib.SI);

const kPressures = [101325, 89874.5];  // Pa: sea level, 1000 m
const kLeafBelowAir = 2;               // K
const kTriplePoint = 0.01;             // C

const lines = [
  '# made by tests/reference/make_table.js with npm psychrolib 1.1.1; do not edit',
  'T_C,RH_pct,p_kPa,es_kPa,ea_kPa,vpd_kPa,leaf_vpd_kPa,dewpoint_C,humidity_ratio_kg_kg,' +
      'enthalpy_kJ_kg,abs_humidity_g_m3,dew_phase',
];
for (const p of kPressures) {
  for (let t = 5; t <= 40; t += 2.5) {
    for (let rh = 20; rh <= 100; rh += 10) {
      const es = psychrolib.GetSatVapPres(t);
      const ea = psychrolib.GetVapPresFromRelHum(t, rh / 100);
      const w = psychrolib.GetHumRatioFromRelHum(t, rh / 100, p);
      const dew = psychrolib.GetTDewPointFromRelHum(t, rh / 100);
      lines.push([
        t.toFixed(1),
        rh,
        (p / 1000).toFixed(4),
        (es / 1000).toFixed(7),
        (ea / 1000).toFixed(7),
        (psychrolib.GetVaporPressureDeficit(t, w, p) / 1000).toFixed(7),
        ((psychrolib.GetSatVapPres(t - kLeafBelowAir) - ea) / 1000).toFixed(7),
        dew.toFixed(4),
        w.toFixed(9),
        (psychrolib.GetMoistAirEnthalpy(t, w) / 1000).toFixed(5),
        (1000 * w / psychrolib.GetMoistAirVolume(t, w, p)).toFixed(6),
        dew >= kTriplePoint ? 'dew' : 'frost',
      ].join(','));
    }
  }
}
console.log(lines.join('\n'));
