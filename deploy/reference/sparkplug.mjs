// Writes testdata/published/sparkplug_messages.csv: a night of Sparkplug B messages as
// sparkplug-payload 1.0.3 (npm, EPL-2.0) encodes them, for a check of
// ingest/decode/sparkplug against an encoder we did not write. The column expect is
// what was put in, in words; it does not come from our decoder.
//
//   cd deploy/reference
//   npm install --no-package-lock
//   node sparkplug.mjs > ../../testdata/published/sparkplug_messages.csv
import spb from 'sparkplug-payload';
import { readFileSync } from 'node:fs';

const { version } = JSON.parse(readFileSync(new URL('./node_modules/sparkplug-payload/package.json', import.meta.url)));
const source = `sparkplug-payload ${version} (npm), run by deploy/reference/sparkplug.mjs`;
const { encodePayload } = spb.get('spBv1.0');

const quote = (s) => `"${String(s).replaceAll('"', '""')}"`;
const line = (topic, payload, expect) =>
  console.log([quote(topic), Buffer.from(encodePayload(payload)).toString('hex'), quote(expect), 'computed', quote(source)].join(','));

const T = 1935515643000; // 2031-05-02T19:14:03Z
const [NB, ND, NX] = ['NBIRTH', 'NDATA', 'NDEATH'].map((k) => `spBv1.0/shop/${k}/kettle`);
const [DB, DD, DX] = ['DBIRTH', 'DDATA', 'DDEATH'].map((k) => `spBv1.0/shop/${k}/kettle/probes`);
const m = (name, type, value, more = {}) => ({ name, type, value, timestamp: T, ...more });
const by = (alias, type, value, at, more = {}) => ({ alias, type, value, timestamp: at, ...more });
const degrees = (u) => ({ properties: { engUnit: { type: 'String', value: u }, Documentation: { type: 'String', value: 'middle of slab B' } } });
const marked = (code) => ({ properties: { Quality: { type: 'Int32', value: code } } });
const bdSeq = (n) => m('bdSeq', 'UInt64', n);
const again = { name: 'Node Control/Rebirth', type: 'Boolean', value: false, timestamp: T };

console.log('topic,payload,expect,provenance,source');
// Before any birth: an alias means nothing, a name does.
line(DD, { timestamp: T, seq: 17, metrics: [by(1, 'Float', 54.5, T)] }, 'rebirth; error no birth');
line(ND, { timestamp: T, seq: 18, metrics: [m('room', 'Double', 18.25)] }, 'room=18.25 at 1935515643000');
// The births.
line(NB, { timestamp: T, seq: 0, metrics: [bdSeq(3), again, m('room', 'Double', 18.5, { alias: 9, ...degrees('°C') }), m('Properties/OS', 'String', 'x')] },
  'back node shop/kettle; room=18.5 °C at 1935515643000');
line(DD, { timestamp: T, seq: 1, metrics: [by(1, 'Float', 54.5, T)] }, 'rebirth; error no birth');
line(DB, { timestamp: T + 1, seq: 2, metrics: [
  m('core', 'Float', 128.3, { alias: 1, ...degrees('°F') }), m('grate', 'Int16', -4, { alias: 2, ...degrees('°C') }),
  m('door', 'Boolean', true, { alias: 3 }), m('weight', 'UInt32', 4250, { alias: 4, ...degrees('g') }),
  m('ticks', 'Int64', -7, { alias: 5 }), m('tiny', 'Int8', -1, { alias: 6 }), m('other', 'UInt64', 5, { alias: 7 })] },
  'back device shop/kettle/probes; core=128.3 °F at 1935515643000; grate=-4 °C at 1935515643000; door=1 at 1935515643000; weight=4250 g at 1935515643000; ticks=-7 at 1935515643000; tiny=-1 at 1935515643000');
// Data by alias: type and unit are the birth's where the message leaves them out.
line(DD, { timestamp: T + 5000, seq: 3, metrics: [by(1, 'Float', 129.1, T + 4000), by(7, 'UInt64', 6, T + 4000)] }, 'core=129.1 °F at 1935515647000');
line(DD, { timestamp: T + 9000, seq: 4, metrics: [{ alias: 2, type: 'Int16', value: -3 }] }, 'grate=-3 °C at 1935515652000');
// Null, marked bad, marked stale, text, not a number.
line(DD, { timestamp: T + 10000, seq: 5, metrics: [{ alias: 1, type: 'Float', value: null, timestamp: T + 10000 }] }, 'core: no value at 1935515653000 °F');
line(DD, { timestamp: T + 10000, seq: 6, metrics: [by(1, 'Float', 3, T + 10000, marked(0)), by(2, 'Int16', 3, T + 10000, marked(500)), by(4, 'UInt32', 4240, T + 10000, marked(192))] },
  'core: no value at 1935515653000 °F; grate: no value at 1935515653000 °C; weight=4240 g at 1935515653000');
line(DD, { timestamp: T + 11000, seq: 7, metrics: [by(1, 'String', 'open', T + 11000), by(2, 'Double', NaN, T + 11000)] }, 'core: not a number at 1935515654000 °F; grate: no value at 1935515654000 °C');
// Backfill, two at once; one live among them.
line(DD, { timestamp: T + 60000, seq: 8, metrics: [by(1, 'Float', 129.5, T + 20000, { isHistorical: true }), by(1, 'Float', 129.75, T + 40000, { isHistorical: true }), by(1, 'Float', 130, T + 60000)] },
  'core=129.5 °F at 1935515663000 historical; core=129.75 °F at 1935515683000 historical; core=130 °F at 1935515703000');
// An alias no birth gave.
line(DD, { timestamp: T + 61000, seq: 9, metrics: [by(77, 'Float', 1, T + 61000)] }, 'rebirth; error no birth');
// Twice the same number is a repeat; a gap is loss, and aliases wait for a birth.
line(DD, { timestamp: T + 61000, seq: 9, metrics: [by(1, 'Float', 130.5, T + 61000)] }, 'core=130.5 °F at 1935515704000');
line(DD, { timestamp: T + 62000, seq: 12, metrics: [by(1, 'Float', 131, T + 62000)] }, 'rebirth; error no birth');
line(DD, { timestamp: T + 63000, seq: 13, metrics: [m('core', 'Float', 131.5)] }, 'core=131.5 °F at 1935515643000');
line(DB, { timestamp: T + 64000, seq: 14, metrics: [m('core', 'Float', 132, { alias: 2, ...degrees('°F') })] }, 'back device shop/kettle/probes; core=132 °F at 1935515643000');
line(DD, { timestamp: T + 65000, seq: 15, metrics: [by(2, 'Float', 132.5, T + 65000)] }, 'core=132.5 °F at 1935515708000');
// The sequence goes round at 255.
line(NB, { timestamp: T + 66000, seq: 254, metrics: [bdSeq(4), again] }, 'back node shop/kettle');
line(DB, { timestamp: T + 66000, seq: 255, metrics: [m('core', 'Float', 132, { alias: 1 })] }, 'back device shop/kettle/probes; core=132 at 1935515643000');
line(ND, { timestamp: T + 67000, seq: 0, metrics: [m('room', 'Int32', -2)] }, 'room=-2 at 1935515643000');
// A device dies: its node's values go on, its own wait for a birth.
line(DX, { timestamp: T + 68000, seq: 1, metrics: [] }, 'gone device shop/kettle/probes');
line(DD, { timestamp: T + 69000, seq: 2, metrics: [m('core', 'Float', 133)] }, 'rebirth; error no birth');
line(DB, { timestamp: T + 70000, seq: 3, metrics: [m('core', 'Float', 133, { alias: 1 })] }, 'back device shop/kettle/probes; core=133 at 1935515643000');
// A late will of the session before is nobody's death; the right one is everybody's.
line(NX, { timestamp: T, metrics: [bdSeq(3)] }, '');
line(NX, { timestamp: T, metrics: [bdSeq(4)] }, 'gone node shop/kettle; gone device shop/kettle/probes');
line(DD, { timestamp: T + 80000, seq: 4, metrics: [by(1, 'Float', 134, T + 80000)] }, 'rebirth; error no birth');
// What we ask with.
line('spBv1.0/shop/NCMD/kettle', { timestamp: T, metrics: [{ name: 'Node Control/Rebirth', type: 'Boolean', value: true, timestamp: T }] }, 'asked');
