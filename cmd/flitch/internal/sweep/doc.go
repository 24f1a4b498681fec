// Package sweep holds only tests: they build the binary, start it, and walk its page in
// Chromium as people do, by thumb, by keyboard, without script and without a network.
//
// What each form is given, good and rubbish, stands in one table (table_test.go). A form
// that is not in it fails the sweep, so that none is forgotten.
package sweep
