package domain

// The two ways to read an entry: in one pass where that is sure, and by writing it again.
var (
	ReadCanonical = readCanonical
	ParseAgain    = parseAgain
)

// CheckSheetShape holds a sheet of the program to what a farm's own must be, but for who may ask for it.
func CheckSheetShape(x *LogSheet, p *Problems) { x.checkShape(p) }
