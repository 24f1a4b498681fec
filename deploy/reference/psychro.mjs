// Writes testdata/published/psychrolib.csv: moist air as PsychroLib 1.1.1 (npm,
// MIT) computes it, for a check of process/heat against code we did not write.
//
//   cd deploy/reference
//   npm install --no-package-lock
//   node psychro.mjs > ../../testdata/published/psychrolib.csv
//
// The library iterates to 0.001 K. It loses its way where its bracket for the wet
// bulb passes the boiling point, so above 95 °C it is asked for the air from both
// bulbs only, which needs no iteration.
import psychro from 'psychrolib';
import { readFileSync } from 'node:fs';

const { version } = JSON.parse(readFileSync(new URL('./node_modules/psychrolib/package.json', import.meta.url)));
const source = `PsychroLib ${version} (npm), run by deploy/reference/psychro.mjs`;
psychro.SetUnitSystem(psychro.SI);

const print = (x) => (x === '' ? '' : Number(Number(x).toPrecision(12)));
const line = (...cells) => console.log([...cells.map(print), 'computed', `"${source}"`].join(','));

console.log('T_db_C,RH_pct,altitude_m,P_Pa,pws_Pa,W_kg_per_kg,T_dew_C,T_wb_C,T_wb_given_C,W_from_wb,provenance,source');
for (const altitude of [-100, 0, 700, 1609, 3000]) {
  const P = psychro.GetStandardAtmPressure(altitude);
  for (const t of [-25, -8, 2, 7, 15, 24, 38, 54, 71, 82, 93]) {
    for (const rh of [4, 30, 65, 97]) {
      if ((rh / 100) * psychro.GetSatVapPres(t) >= 0.9 * P) continue;
      const W = psychro.GetHumRatioFromRelHum(t, rh / 100, P);
      line(t, rh, altitude, P, psychro.GetSatVapPres(t), W,
        psychro.GetTDewPointFromRelHum(t, rh / 100), psychro.GetTWetBulbFromRelHum(t, rh / 100, P), '', '');
    }
  }
  for (const [t, wet] of [[-3, -6], [20, 11], [60, 41], [95, 52], [107.2, 47], [121.1, 55], [135, 62], [160, 70], [190, 80]]) {
    line(t, '', altitude, P, psychro.GetSatVapPres(t), '', '', '', wet, psychro.GetHumRatioFromTWetBulb(t, wet, P));
  }
}
