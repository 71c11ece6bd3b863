package domain

// CheckSheetShape holds a sheet of the program to what a farm's own must be, but for who may ask for it.
func CheckSheetShape(x *LogSheet, p *Problems) { x.checkShape(p) }
