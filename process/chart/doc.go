// Package chart draws the pictures of a batch as SVG: the temperatures, the cure inside
// the slab, the cook ahead and the legs of the chill. Each drawing takes plain data and
// asks nobody; the same data give the same bytes. The page and the record show the same
// drawings.
//
// Nothing is told by colour alone: every line has its own dashes and its name at its end.
package chart
