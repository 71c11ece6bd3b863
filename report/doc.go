// Package report makes the papers that an inspector reads and the charts that people look at, from values of the domain.
//
// A paper is a PDF of letter or A4 pages. Each page says which farm it is of, what it is, how many pages there are, when
// it was made and from which state of the book: the book's checkpoint stands in the footer as text and as a QR symbol,
// so that a sheet which comes back after a year can be held against the book. Nothing is told by colour alone and
// everything is black, white and light grey, because papers are photocopied. What is not known is said in a box near
// the beginning.
//
// A chart is an SVG with a title and a description in words. The chart in the paper is drawn from the same shapes.
//
// The same input always gives the same bytes. Nothing here judges: verdicts, counted days and their reasons come from
// the domain.
package report
