// Package block packs readings of one probe into few bytes and gives them back bit for bit.
//
// It computes and no more: what a block stands for, and where it is kept, is the store's to
// know. A block is
//
//	1 byte   version, 1
//	uvarint  how many rows
//	5 times  a column: uvarint length unpacked, uvarint length packed, DEFLATE (RFC 1951)
//
// The columns, all of varints as encoding/binary has them:
//
//	numbers   the first, then how much higher each next one is, less one
//	measured  the first, the usual step (median), then by how much each step differs from it
//	received  the usual delay after measured (median), then by how much each differs from it;
//	          or the same of the steps, if that is shorter
//	values    see values.go: whole numbers of one scale, or places in a list of those that occur
//	marks     see marks.go: what is kept of the readings that are not plain
//
// Steps are held against their median and not against the step before: the jitter of a
// message that comes some milliseconds late is in two steps then, and not in three.
// Every column is packed by itself, because each has symbols of its own. Measured over a year
// of twelve probes: about 2 bytes a reading.
package block
