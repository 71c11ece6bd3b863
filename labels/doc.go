// Package labels turns what a label says into bytes for a printer: PDF, PNG, SVG and ZPL. It knows no HTTP and no SQL,
// and the same input gives the same bytes.
//
// Every format draws the same page. The page is laid out once, in whole printer dots, from the widths of the embedded
// font; the writers of the formats only draw it. So what the tests find out about the boxes of a page holds for all
// of them.
//
// A label must do its work without a scanner: wet, torn, in bad light. Whatever a trace needs is printed as text, and
// the QR symbol only saves typing.
package labels
