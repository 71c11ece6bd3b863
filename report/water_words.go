package report

import "croftmark/domain"

var waterKinds = map[domain.WaterKind]domain.LocalText{
	domain.WaterPublicSupply:     {En: "public supply", Es: "red pública"},
	domain.WaterUntreatedGround:  {En: "ground water, not treated", Es: "agua de pozo sin tratar"},
	domain.WaterTreatedGround:    {En: "ground water, treated", Es: "agua de pozo tratada"},
	domain.WaterTreatedSurface:   {En: "surface water, treated", Es: "agua superficial tratada"},
	domain.WaterUntreatedSurface: {En: "surface water, not treated", Es: "agua superficial sin tratar"},
	domain.WaterRain:             {En: "rain water", Es: "agua de lluvia"},
}

func (t tongue) waterKind(k domain.WaterKind) string {
	if x, ok := waterKinds[k]; ok {
		return t.of(x)
	}
	return orDash(string(k))
}

var waterUses = map[domain.WaterUse]domain.LocalText{
	domain.UseIrrigationTouching:    {En: "irrigation that wets what is sold", Es: "riego que moja lo que se vende"},
	domain.UseIrrigationNotTouching: {En: "irrigation that does not touch what is sold", Es: "riego que no toca lo que se vende"},
	domain.UseHarvest:               {En: "harvest", Es: "cosecha"},
	domain.UseWashing:               {En: "washing", Es: "lavado"},
	domain.UseCooling:               {En: "cooling", Es: "enfriado"},
	domain.UseIce:                   {En: "ice", Es: "hielo"},
	domain.UseHands:                 {En: "hands", Es: "manos"},
	domain.UseCleaning:              {En: "cleaning of what touches food", Es: "limpieza de lo que toca alimentos"},
}

func (t tongue) waterUse(u domain.WaterUse) string {
	if x, ok := waterUses[u]; ok {
		return t.of(x)
	}
	return string(u)
}

var findings = map[domain.WaterFinding]domain.LocalText{
	domain.NoneDetected:  {En: "none detected", Es: "no detectada"},
	domain.Detected:      {En: "DETECTED", Es: "DETECTADA"},
	domain.CannotTell:    {En: "cannot tell", Es: "no se sabe"},
	domain.PendingResult: {En: "pending", Es: "pendiente"},
}

func (t tongue) finding(f domain.WaterFinding) string { return t.of(findings[f]) }

var waterPlans = map[domain.WaterPlan]domain.LocalText{
	domain.PlanFirstYear:   {En: "four tests in the first year", Es: "cuatro análisis en el primer año"},
	domain.PlanRetest:      {En: "four good tests after a failure", Es: "cuatro análisis buenos después de una falla"},
	domain.PlanRetestOnce:  {En: "one good test after a failure", Es: "un análisis bueno después de una falla"},
	domain.PlanYearly:      {En: "one test a year", Es: "un análisis al año"},
	domain.PlanCertificate: {En: "the supplier's water report, every year", Es: "el informe del proveedor, cada año"},
	domain.PlanMonitoring:  {En: "a reading of the treatment", Es: "una lectura del tratamiento"},
	domain.PlanNone:        {En: "no test by this rule", Es: "ningún análisis según esta regla"},
}

func (t tongue) waterPlan(p domain.WaterPlan) string {
	if x, ok := waterPlans[p]; ok {
		return t.of(x)
	}
	return string(p)
}

var profiles = map[domain.ProfileOutcome]domain.LocalText{
	domain.ProfileMeets:   {En: "meets the buyer's numbers", Es: "cumple los números del comprador"},
	domain.ProfileFails:   {En: "does not meet the buyer's numbers", Es: "no cumple los números del comprador"},
	domain.ProfileUnknown: {En: "not enough on file to say", Es: "no hay bastante en archivo para decirlo"},
}

// tap names a tap; a record without one may be of any.
func (t tongue) tap(name string) string {
	if name == "" {
		return t.say("no tap named", "sin llave indicada")
	}
	return name
}
