// Package proof says what was written when, so that a stranger can find out whether
// anything was changed since: the bytes that are hashed, the chain of the journal, the
// seals over the input log, the signatures, and the file in which all of it is given
// away. Pure: it computes and reads what it is handed.
//
// Four layers, each over the one before:
//
//  1. A row of the input log (a reading, a command, a tick) as bytes: Row.
//  2. A seal over the rows of a span of numbers, strand by strand: Sealer, Seal.
//  3. The journal, a hash chain of lines; a seal is a line of it: JournalHash, Chain.
//  4. A signature over the hash of such a line: Message, Signature.
//
// What it cannot show: who holds the key can make another chain and sign it, and
// without an outside time stamp the clock is the one of the machine. See Limits.
package evidence

// Limits are what a proof does not show; every report and every file says them.
var Limits = []string{
	"Who holds the key can make another chain and sign it. Compare the fingerprint, and a head that was printed or sent before, with what you were given then.",
	"The times are those of the clock of the machine; no outside time stamp stands behind them.",
	"That a probe was in the right place, and right, is shown by no hash.",
}
