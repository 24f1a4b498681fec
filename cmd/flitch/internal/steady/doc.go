// Package steady is the clock of the house: it takes what the clock of the machine says
// and makes of it a time that never runs backwards, counts every second once, and tells
// of each step. Small boards start in 1970, people set clocks, machines sleep.
//
// The rules, and why:
//
//   - Between two looks the machine's own count of seconds decides, so that a silence or a
//     delay is as long as it was.
//   - A small difference is followed: a time server that moves the clock gently, a leap
//     second, smeared or not.
//   - A step ahead is followed at once, and is a time of which nobody knows anything: a gap
//     earns no lethality and counts as warm. If a sensor with a clock of its own agreed
//     with us until then, its next message decides.
//   - A step back is not followed: an hour that is counted twice would put two hours into
//     one, and a product that was out for two would have been out for one. The house stays
//     ahead, says by how much, and comes back at half pace while nothing runs by time: no
//     batch is open, no alarm is there or on its way, nothing is on a shelf.
//   - A time that cannot be (before this flitch was made, or years ahead of all that is
//     stored) is not followed at all.
package steady
