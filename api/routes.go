package api

import "croftmark/domain"

// routes is the whole route table. Every noun has the same seven routes; what else there is follows below.
func (s *Server) routes() {
	register[domain.Plot](s, collection{path: "plots", noun: "plot", create: domain.Lead, correct: domain.Lead, tag: "Ground"})
	register[domain.Bed](s, collection{path: "beds", noun: "bed", create: domain.Lead, correct: domain.Lead, filters: []string{"plot_id"}, tag: "Ground"})
	register[domain.BedLayout](s, collection{path: "bed-layouts", noun: "bed layout", create: domain.Lead, correct: domain.Lead, filters: []string{"plot_id"}, tag: "Ground"})
	register[domain.Crop](s, collection{path: "crops", noun: "crop", create: domain.Lead, correct: domain.Lead, filters: []string{"name"}, tag: "Plants"})
	register[domain.Planting](s, collection{path: "plantings", noun: "planting", create: domain.Crew, correct: domain.Lead, filters: []string{"crop_id"}, tag: "Plants"})
	register[domain.Input](s, collection{path: "inputs", noun: "input", create: domain.Crew, correct: domain.Lead, filters: []string{"category"}, tag: "Inputs"})
	register[domain.InputLot](s, collection{path: "input-lots", noun: "input lot", create: domain.Crew, correct: domain.Lead, filters: []string{"input_id", "supplier", "supplier_lot"}, tag: "Inputs"})
	register[domain.Application](s, collection{path: "applications", noun: "application", create: domain.Crew, correct: domain.Lead, filters: []string{"method"}, tag: "Inputs"})
	register[domain.Grazing](s, collection{path: "grazings", noun: "grazing", create: domain.Crew, correct: domain.Lead, filters: []string{"species"}, tag: "Inputs"})
	register[domain.Hold](s, collection{path: "holds", noun: "hold", create: domain.Crew, correct: domain.Lead, tag: "Holds"})
	register[domain.HarvestLot](s, collection{path: "harvest-lots", noun: "harvest lot", create: domain.Crew, correct: domain.Lead, filters: []string{"planting_id", "cut_on"}, tag: "Harvest"})

	s.registerFarm()
	s.registerPeople()
	s.registerTokens()
	s.registerSessions()
	s.registerAttachments()
	s.registerCompost()
	s.registerWater()
	s.registerFindings()
	s.registerLogSheets()
	s.registerReviews()
	s.registerShipping()
	s.registerReports()
	s.registerRecalls()
	s.registerRequests()
	s.registerGround()
	s.registerHarvest()
	s.registerLots()
	s.registerLabels()
	s.registerBook()
	s.registerRules()
	s.registerToday()
	s.registerImports()
	s.registerHealth()
	s.registerPages()
	s.registerWeb()
}
