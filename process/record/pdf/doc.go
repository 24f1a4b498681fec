// Package pdf writes a record as PDF: pages to hand over, with text that can be searched
// and copied, bookmarks, and the graph as lines. It is the only one that knows the PDF
// library and the fonts.
//
// Letters come from Liberation Sans and, where that has none, from DejaVu Sans: Latin,
// Greek, Cyrillic, Armenian, Georgian, Hebrew, Arabic and more. A letter that neither has
// is printed as [U+4E2D], and the paper says so: nothing is dropped, and no box stands for
// a name.
package pdf
