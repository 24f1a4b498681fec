// Package fleet copies what a site has stored up into one PostgreSQL that holds many
// sites, and reads it back from there. It is the only room that knows PostgreSQL.
//
// A site runs on its own: nothing here is waited for by the watch. The log is read in
// pieces by its numbers, and how far it was sent stands in PostgreSQL beside the rows, in
// the transaction that brings them. So an answer that is lost, a daemon that is killed and
// weeks without internet all end in the same question: how far did we come?
//
// What goes: the input log with the marks of its readings, the journal with its hashes and
// signatures, the state of each batch as of a number, the record and the proof of each
// closed batch, and what the glance says. What does not: photos, secrets, phones, messages.
package fleet
