// Package workbook writes a record as XLSX: a sheet a form, the readings, and the
// temperatures as a chart of the spreadsheet. Numbers are numbers and moments are moments.
// It is the only one that knows the spreadsheet library.
//
// Texts are texts: nothing in the file is a formula, and what a spreadsheet might take for
// one when the sheet is saved as CSV has an apostrophe in front, as in the CSV.
package workbook
