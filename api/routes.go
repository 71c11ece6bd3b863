package api

import "croftmark/domain"

// routes is the whole route table. Every noun has the same seven routes; what else there is follows below.
func (s *Server) routes() {
	register[domain.Person](s, collection{"people", "person", domain.Owner, domain.Owner, []string{"role"}, "People"})
	register[domain.Plot](s, collection{"plots", "plot", domain.Lead, domain.Lead, nil, "Ground"})
	register[domain.Bed](s, collection{"beds", "bed", domain.Lead, domain.Lead, []string{"plot_id"}, "Ground"})
	register[domain.BedLayout](s, collection{"bed-layouts", "bed layout", domain.Lead, domain.Lead, []string{"plot_id"}, "Ground"})
	register[domain.Crop](s, collection{"crops", "crop", domain.Lead, domain.Lead, []string{"name"}, "Plants"})
	register[domain.Planting](s, collection{"plantings", "planting", domain.Crew, domain.Lead, []string{"crop_id"}, "Plants"})
	register[domain.Input](s, collection{"inputs", "input", domain.Crew, domain.Lead, []string{"category"}, "Inputs"})
	register[domain.InputLot](s, collection{"input-lots", "input lot", domain.Crew, domain.Lead, []string{"input_id", "supplier", "supplier_lot"}, "Inputs"})
	register[domain.Application](s, collection{"applications", "application", domain.Crew, domain.Lead, []string{"method"}, "Inputs"})
	register[domain.Grazing](s, collection{"grazings", "grazing", domain.Crew, domain.Lead, []string{"species"}, "Inputs"})
	register[domain.Hold](s, collection{"holds", "hold", domain.Crew, domain.Lead, nil, "Holds"})
	register[domain.HarvestLot](s, collection{"harvest-lots", "harvest lot", domain.Crew, domain.Lead, []string{"planting_id", "cut_on"}, "Harvest"})
	register[domain.LabelPrint](s, collection{"label-prints", "label print", domain.Crew, domain.Lead, []string{"lot_id"}, "Harvest"})

	s.registerFarm()
	s.registerGround()
	s.registerHarvest()
	s.registerLots()
	s.registerBook()
	s.registerRules()
	s.registerToday()
	s.registerHealth()
	s.registerPages()
}
