// The shapes of the HTTP interface that the app reads. What it does not use is not written down here.

export const verdicts = ['clear', 'caution', 'wait', 'ask', 'stop'] as const
export type Verdict = (typeof verdicts)[number]

export interface Quantity { value: string; unit: string }
export interface RecordRef { kind: string; id: string }

export interface Reason {
  rule: string
  authority: 'law' | 'certifier' | 'buyer' | 'guidance' | 'farm'
  citation: string
  verdict: Verdict
  clear_on?: string
  days_short?: number
  text: string
  text_es?: string
  records?: RecordRef[]
}

export interface Check {
  bed_id: string
  bed: string
  plot_id: string
  planting_id: string
  crop: string
  soil_contact: string
  verdict: Verdict
  clear_on?: string
  reasons: Reason[]
}

export interface HarvestCheck { on: string; checks: Check[] }

export interface Farm {
  id: string; name: string; time_zone: string; units?: 'us' | 'metric'
  address?: string; phone?: string; contact?: string; contact_phone?: string; certifier?: string
  exemption?: string; produce_safety_size?: string; buyer_water_profile?: boolean
  standards?: { set: string; from: string; to?: string }[]
  public_page?: string[]; gs1_prefix?: string; gs1_items?: GS1Item[]
}
export interface GS1Item { product: string; item: string }
export interface Person { id: string; name: string; initials: string; role: string; language?: string; ends_on?: string; voided?: boolean }
export interface Plot { id: string; name: string; voided?: boolean }
export interface Bed { id: string; name: string; plot_id: string; from: string; to?: string; in_production?: boolean; length?: Quantity; width?: Quantity; voided?: boolean }
export interface Crop { id: string; name: string; variety?: string; voided?: boolean }
export interface Planting { id: string; crop_id: string; bed_ids: string[]; planted_on: string; ended_on?: string; voided?: boolean }
export interface Input { id: string; name: string; category: string; species?: string; voided?: boolean }
export interface InputLot { id: string; input_id: string; supplier: string; supplier_lot?: string; received_on: string; quantity?: Quantity; voided?: boolean }
export interface Batch { id: string; code: string; method: string; started_on: string; points?: { names?: string[] }[]; voided?: boolean }

export interface Lot {
  id: string
  code: string
  planting_id: string
  bed_ids: string[]
  cut_on?: string
  cut_from?: string
  cut_to?: string
  quantity: Quantity
  containers?: number
  verdict_now?: Verdict
  held?: boolean
  voided?: boolean
}

export interface Problem {
  type?: string
  title: string
  status: number
  detail: string
  errors?: { pointer: string; detail: string }[]
  verdict?: Verdict
  clear_on?: string
  reasons?: Reason[]
}

// Why a thing is on hold: in a person's words, or what was judged of the ground under a lot that the book itself put on hold.
export interface Why { reason: string; already_cut?: Verdict }

export interface Judgement { verdict: Verdict; clear_on?: string; reasons: Reason[] }

export interface FoundLot {
  kind: string
  code: string
  crate?: number
  lot_id: string
  lot_code: string
  crop: string
  variety?: string
  planting_id?: string
  bed_ids?: string[]
  beds: string[]
  plot?: string
  cut_from: string
  cut_to?: string
  quantity: Quantity
  on_hand: Quantity
  disposed: Quantity
  containers: number
  verdict: Verdict
  verdict_then?: Judgement
  verdict_now: Judgement
  held: boolean
  hold_records?: ({ id: string; released_on?: string } & Why)[]
  where: string
  shipped_to?: string
  shipped_on?: string
  from?: { lot: string; quantity: Quantity }[]
  packed_on?: string
  status?: string
}

export interface Trace {
  start: number
  nodes: { kind: string; id?: string; label: string; on?: string; what?: string; incorporated_on?: string; to?: string }[]
  links: { from: number; to: number; how: string }[]
  gaps?: string[]
}

export interface Exposure {
  kind: string
  what: string
  on: string
  incorporated_on?: string
  to?: string
  standing: 'treated' | 'untreated' | 'plant-only' | ''
  why?: string
  supplier?: string
  days_to_harvest?: number
  record: RecordRef
  via: { kind: 'bed' | 'earlier-bed' | 'plot'; name: string }
}

export interface Ground { bed_id: string; name: string; from: string; to?: string; exposures: Exposure[] }

export interface BatchAnswer extends Batch {
  process: { set: string; outcome: string; met_on?: string; counted_days?: string[] | null; turnings_counted?: number }[]
  standing: string
}

export interface Me { person_id: string; name: string; initials: string; role: 'owner' | 'lead' | 'crew' | 'reader'; today: string }

export interface OnHand {
  lot_id: string
  kind: 'harvest-lot' | 'pack-lot'
  code: string
  name: string
  cut_from: string
  on_hand: Quantity
  verdict: Verdict
  held: boolean
  crate_net?: Quantity
  crates: { number: number; code: string }[]
}

export interface WaterSource { id: string; name: string; kind: string; uses?: string[]; points?: { use: string; tap: string }[]; to?: string; voided?: boolean }
export interface Customer { id: string; name: string; kind: string; contact?: string; phone?: string; voided?: boolean }

export interface TwoTongues { en: string; es: string }
export interface SheetField {
  key: string
  name: TwoTongues
  type: 'text' | 'number' | 'quantity' | 'yes-no' | 'choice' | 'choices' | 'date' | 'time' | 'person' | 'people' | 'beds' | 'lots' | 'names'
  unit?: string
  unit_label?: string
  choices?: { value: string; name: TwoTongues }[]
  required?: boolean
}
export interface Sheet {
  key: string
  title: TwoTongues
  when?: TwoTongues
  caution?: TwoTongues
  fields: SheetField[]
  asks: { authority: string; citation: string; strength: string }[]
  private?: boolean
}

// What a written record answers, whatever its kind.
export interface Written {
  id: string
  code?: string
  held?: boolean
  typed_by?: string
  warnings?: string[]
  crate_codes?: string[]
  out_of_limits?: { field: string; value: string; limit: string; act: TwoTongues; asks?: { authority: string; citation: string; mark?: string } }[]
  rejudged?: { code: string; then: Verdict; now: Verdict }[]
}
