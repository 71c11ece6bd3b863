// The kinds of records that people write and mend on the phone: where they are, and which fields can be put right.

import { isSpray } from './materials'
import type { Entry } from './queue'
import type { Known } from './state'

// How a field is asked for when it is mended.
export type How = 'day' | 'moment' | 'quantity' | 'text' | 'beds' | 'ground' | 'touched' | 'decimal' | 'count' | 'seen' | 'method' | 'paper' | 'readings' | 'result' | 'values'
  | 'material' | 'water' | 'buyer' | 'crew' | 'cuts'

export interface MendKind { path: string; fields: [string, How][]; voids?: boolean }

const of = (path: string, fields: [string, How][], voids = true): MendKind => ({ path, fields, voids })
const note: [string, How] = ['note', 'text']

export const mendKinds: Record<string, MendKind> = {
  application: of('applications', [['source', 'material'], ['amount', 'quantity'], ['ground', 'ground'], ['applied_on', 'day'], ['incorporated_on', 'day'], ['touched_crop', 'touched'], ['days_to_harvest', 'count'], ['restricted_entry_hours', 'count'], ['ended_at', 'moment'], ['cut_before', 'cuts'], note]),
  grazing: of('grazings', [['ground', 'ground'], ['from', 'day'], ['to', 'day'], ['species', 'text'], ['cut_before', 'cuts'], note]),
  finding: of('findings', [['kind', 'seen'], ['ground', 'ground'], ['found_at', 'moment'], ['touched_crop', 'touched'], ['part', 'text'], note]),
  irrigation: of('irrigations', [['source_id', 'water'], ['ground', 'ground'], ['started_at', 'moment'], ['method', 'method'], ['touched_crop', 'touched'], note]),
  'water-treatment': of('water-treatments', [['source_id', 'water'], ['ppm', 'decimal'], ['ph', 'decimal'], ['water_temperature', 'quantity'], ['pulp_temperature', 'quantity'], ['taken_at', 'moment'], ['tank', 'text'], note]),
  'water-test': of('water-tests', [['result', 'result'], ['source_id', 'water'], ['sampled_at', 'moment'], ['tap', 'text'], ['lab', 'text'], ['method', 'text'], note]),
  'compost-temperatures': of('compost-temperatures', [['readings', 'readings'], note]),
  'compost-turning': of('compost-turnings', [['turned_at', 'moment'], note]),
  'harvest-lot': of('harvest-lots', [['quantity', 'quantity'], ['containers', 'count'], ['bed_ids', 'beds'], ['cut_on', 'day'], ['crew', 'crew'], note], false),
  'pack-lot': of('pack-lots', [], false),
  shipment: of('shipments', [['customer_id', 'buyer'], ['reference', 'paper'], ['shipped_at', 'moment'], note]),
  return: of('returns', []),
  'log-entry': of('log-entries', [['values', 'values'], ['action', 'text'], note]),
  hold: of('holds', [['reason', 'text'], note], false),
  'input-lot': of('input-lots', [['quantity', 'quantity'], ['received_on', 'day'], ['supplier', 'text'], ['supplier_lot', 'text'], note], false),
  planting: of('plantings', [['planted_on', 'day'], ['ended_on', 'day'], note], false),
  'label-print': of('label-prints', []),
  'label-discard': of('label-discards', [['spoiled', 'count'], ['void', 'count'], ['reason', 'text']]),
  'lost-label': of('lost-labels', [['where', 'text'], ['evidence', 'text'], note]),
  'corrective-action': of('corrective-actions', [note]),
}

// isSprayed tells an application of crop protection from one of what is spread.
export function isSprayed(record: Record<string, unknown>, known: Known | undefined): boolean {
  const id = Object.values((record.source ?? {}) as Record<string, string>)[0]
  const input = known?.inputs.find(i => i.id === known.inputLots.find(l => l.id === id)?.input_id)
  return input ? isSpray(input) : record.days_to_harvest !== undefined
}

// mendFields gives the fields of a record that can be put right: of a spray what its label asks for, of anything else whether
// it was worked in.
export function mendFields(kind: string, record: Record<string, unknown>, known: Known | undefined): [string, How][] {
  const { fields } = mendKinds[kind]!
  if (kind !== 'application') return fields
  const ofOthers = isSprayed(record, known) ? ['incorporated_on'] : ['days_to_harvest', 'restricted_entry_hours', 'ended_at']
  return fields.filter(([key]) => !ofOthers.includes(key))
}

export const kindOfPath = (path: string): string | undefined => Object.keys(mendKinds).find(kind => mendKinds[kind]!.path === path)

// recordOf gives the page of the record that an entry wrote or changed, if it is one that can be looked at again.
export function recordOf(entry: Entry): string | undefined {
  const [, collection, on, act] = /^\/v1\/([a-z-]+)(?:\/([0-9a-f-]{36})\/([a-z-]+))?$/.exec(entry.path) ?? []
  const path = collection === 'compost-batches' && act ? 'compost-' + act : collection
  if (!path || !kindOfPath(path)) return undefined
  if (act === 'release') return undefined
  return `/app/mend/${path}/${act === 'corrections' || act === 'void' ? on : entry.id}`
}
