// What goes on ground: deliveries and the farm's own compost, as they are picked from.

import { mayHoldManure } from './judge'
import type { Known } from './state'

export interface Material {
  id: string
  name: string
  supplier?: string
  on: string // the day it came, or the heap was begun
  source: { input_lot_id: string } | { compost_batch_id: string }
  category?: string // none: own compost
  manure: boolean
}

const notOnGround = ['seed', 'transplant', 'sanitizer', 'potting-mix']

// materialsOf lists them, newest first.
export function materialsOf(known: Known): Material[] {
  const inputs = new Map(known.inputs.map(i => [i.id, i]))
  const deliveries = known.inputLots.flatMap((lot): Material[] => {
    const input = inputs.get(lot.input_id)
    if (!input || notOnGround.includes(input.category)) return []
    return [{
      id: lot.id, name: input.name, supplier: lot.supplier, on: lot.received_on, source: { input_lot_id: lot.id }, category: input.category,
      manure: mayHoldManure(input.category, input.species),
    }]
  })
  const batches = known.batches.map((b): Material => ({ id: b.id, name: b.code, on: b.started_on, source: { compost_batch_id: b.id }, manure: true }))
  return [...deliveries, ...batches].sort((a, b) => b.on.localeCompare(a.on))
}

// isSpray tells crop protection, which has a page and a label of its own, from what is spread.
export const isSpray = (m: { category?: string }): boolean => m.category === 'crop-protection'
