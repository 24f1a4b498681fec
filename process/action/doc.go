// Package action holds the ready texts of corrective actions and fills in what the log
// knows. A ready text has the four parts of 9 CFR 417.3(a), in its order; what only a
// person knows stays a blank, and the person edits all of it before signing. The texts say
// what was measured and draw no conclusion.
package action
