// Package scenario reads a night that somebody wrote down by hand: what the probes
// said, what people did, and what they expect to be rung for. It turns the text into
// readings and commands, always the same ones: the only chance in it is a noise with
// a seed.
//
// The text is one line for one thing. First the head:
//
//	scenario "Ember at Three"
//	batch OL-31-09
//	by T.V.
//	begins 2031-04-07T20:00:00+02:00
//	zone Europe/Vienna
//	seed 9
//	plan belly-dry-cured
//	fuel wood
//	person T.V. quiet 21:00..06:00
//	piece A 2268g 38mm
//	smoker old-kettle
//	probe grate chamber in old-kettle every 1m
//	probe core-1 core in old-kettle piece A every 1m
//
// Then what happened, in order of time:
//
//	20:00 stage smoke
//	from 20:00 to 02:50 grate hold 57.2C swing 1C period 25m noise 0.5C
//	from 20:00 to 02:50 core-1 4C -> 49C
//	from 02:50 to 05:00 grate 57C ~> 12C tau 40m
//	from 03:00 to 03:10 gap core-1
//	from 03:10 to 04:00 late core-1 arrives 04:05
//	from 04:00 to 04:30 doubt core-1 "the board restarted in 1970"
//	from 04:00 to 05:30 phone away
//	03:05 spike grate 400C
//	03:20 acknowledged H3 by M.O.
//	03:31 note "relit"
//	09:30 checked core-1 ice 0.3C
//	09:05 dosed A 5.7g asked 5.7g nitrite 6.25% rule us
//	05:00 turned A typed 09:00
//	05:10 door alder-door open
//	05:20 duty until 07:00 by M.O.
//	05:30 shelved C1 of alder until 08:00 "loading"
//	05:40 sensor alder-slow gone
//	05:45 sensor core-1 asks "loose wire"
//	05:50 battery alder-slow 14% low 20%
//	05:55 lost "page certificate" until 12/09:00
//	06:00 lost broker
//
// And what is expected:
//
//	expect 03:05..03:25 H3 ring
//	expect no H5
//	expect only H3 ring
//	expect 06:00..06:05 summary C6
//	expect clock "come-up" not met
//	expect happening fire-out
//
// A time is on the clock of the beginning, which runs straight through: a night in
// which the clocks are changed has no gap. In the first 24 hours 02:10 is enough;
// later ones say the day, of which the first is 1: 3/02:10. A time that ends
// something is the next time the clock shows it.
package scenario
