package domain

// FarmSize is the size class of the produce safety rule (average yearly produce sales), on which its starting days hang.
type FarmSize string

const (
	FarmLarge       FarmSize = "large"
	FarmSmall       FarmSize = "small"
	FarmVerySmall   FarmSize = "very-small"
	FarmSizeUnknown FarmSize = "" // judged as large, whose days come first
)

// WaterRule is one row of the water rules: who says it, where, since when for which farm, in what words.
type WaterRule struct {
	ID        string
	Authority Authority
	Citation  string
	Mark      string // how well the row is known
	From      map[FarmSize]Date
	CheckedOn Date
	Plain     LocalText
}

// The starting days, US rules reference 2.6: [verified: FDA, S34] at harvest and after; [verified: FDA, S32, S33] before.
var (
	harvestWaterFrom = map[FarmSize]Date{FarmLarge: NewDate(2023, 1, 26), FarmSmall: NewDate(2024, 1, 26), FarmVerySmall: NewDate(2025, 1, 26)}
	fieldWaterFrom   = map[FarmSize]Date{FarmLarge: NewDate(2025, 4, 7), FarmSmall: NewDate(2026, 4, 6), FarmVerySmall: NewDate(2027, 4, 5)}
	waterChecked     = NewDate(2026, 11, 25)
)

// WaterRules are the rows, US rules reference 7.2, by id.
var WaterRules = map[string]WaterRule{
	ruleNoEColi: {ruleNoEColi, Law, "21 CFR 112.44(a)", "verified: 112.44(a) in stored copies (S35, S36)", harvestWaterFrom, waterChecked, LocalText{
		"None may be found in 100 mL.", "No debe hallarse ninguna en 100 mL."}},
	ruleNoSurface: {ruleNoSurface, Law, "21 CFR 112.44(a)", "verified: 112.44(a) in stored copies (S35, S36)", harvestWaterFrom, waterChecked, LocalText{
		"Untreated pond, river or ditch water is not allowed here.", "Aquí no se permite agua sin tratar de estanque, río o zanja."}},
	ruleFourTests: {ruleFourTests, Law, "21 CFR 112.44(b)", "verified: S34", harvestWaterFrom, waterChecked, LocalText{
		"Test the well four times the first year.", "Analice el pozo cuatro veces el primer año."}},
	ruleYearlyTest: {ruleYearlyTest, Law, "21 CFR 112.44(b)", "verified: S34", harvestWaterFrom, waterChecked, LocalText{
		"Then once a year.", "Después, una vez al año."}},
	rulePublicPaper: {rulePublicPaper, Law, "21 CFR 112.44(c)", "verified: old 112.46(a) (S36), yearly document (S29)", harvestWaterFrom, waterChecked, LocalText{
		"Keep this year's water report.", "Guarde el informe de agua de este año."}},
	ruleMonitoring: {ruleMonitoring, Law, "21 CFR 112.46", "verified: S29; the rule names no number of hours", harvestWaterFrom, waterChecked, LocalText{
		"Treatment must work every time, and be watched.", "El tratamiento debe funcionar siempre y vigilarse."}},
	ruleUnsafe: {ruleUnsafe, Law, "21 CFR 112.45(a)", "stop and correct: verified (S35); the two ways to correct: memory", harvestWaterFrom, waterChecked, LocalText{
		"Stop using it now; fix and prove before using again.", "Deje de usarla ya; arregle y compruebe antes de volver a usarla."}},
	ruleAssessment: {ruleAssessment, Law, "21 CFR 112.43", "verified: S30, S37; exemptions of 112.43(b) and outcomes of (c): memory", fieldWaterFrom, waterChecked, LocalText{
		"Write a yearly check of irrigation and spray water that touches the crop.", "Evalúe por escrito cada año el agua de riego y aspersión que toca el cultivo."}},
	ruleNotAgWater: {ruleNotAgWater, Law, "21 CFR 112.3 (agricultural water)", "verified: S41, S33", fieldWaterFrom, waterChecked, LocalText{
		"Water that does not touch what you sell has no test of its own.", "El agua que no toca lo que vende no exige análisis."}},
	ruleMethod: {ruleMethod, Law, "21 CFR 112.151", "memory", harvestWaterFrom, waterChecked, LocalText{
		"The lab must use a listed method.", "El laboratorio debe usar un método de la lista."}},
	ruleHolding: {ruleHolding, Guidance, "sample holding time of EPA Method 1603", "memory: 6 to 8 hours; over 24 hours counts as no test", nil, waterChecked, LocalText{
		"Get the bottle to the lab cold and within hours.", "Lleve la botella fría al laboratorio en pocas horas."}},
	ruleBuyerGM: {ruleBuyerGM, Buyer, "buyer standard with the superseded numbers of 2015", "verified: S36, S69; no longer federal since 2024-07-05 (S31)", nil, waterChecked, LocalText{
		"Some buyers still use the old numbers.", "Algunos compradores aún usan los números viejos."}},
	ruleBuyerSTV: {ruleBuyerSTV, Buyer, "buyer standard with the superseded numbers of 2015", "verified: S36, S69; no longer federal since 2024-07-05 (S31)", nil, waterChecked, LocalText{
		"Some buyers still use the old numbers.", "Algunos compradores aún usan los números viejos."}},
}

const (
	ruleNoEColi     = "us-produce-safety.no-e-coli-harvest-water"
	ruleNoSurface   = "us-produce-safety.no-untreated-surface-harvest-water"
	ruleFourTests   = "us-produce-safety.ground-water-four-tests"
	ruleYearlyTest  = "us-produce-safety.ground-water-yearly-test"
	rulePublicPaper = "us-produce-safety.public-supply-certificate"
	ruleMonitoring  = "us-produce-safety.water-treatment-monitoring"
	ruleUnsafe      = "us-produce-safety.unsafe-water-stop"
	ruleAssessment  = "us-produce-safety.water-assessment"
	ruleNotAgWater  = "us-produce-safety.water-not-touching"
	ruleMethod      = "us-produce-safety.water-test-method"
	ruleHolding     = "guidance.water-sample-holding"
	ruleBuyerGM     = "buyer.irrigation-water-geometric-mean"
	ruleBuyerSTV    = "buyer.irrigation-water-threshold"
)

// StartsOn is the first day on which farms of the size answer to the rule; zero: no such day. A size that is not known
// is judged by the earliest.
func (r WaterRule) StartsOn(size FarmSize) Date {
	if d, ok := r.From[size]; ok {
		return d
	}
	return r.From[FarmLarge]
}
