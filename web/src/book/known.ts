// What is known of the farm: fetched when there is signal, kept with its age for when there is none.

import { get, list, NoSignal, Refused } from './http'
import { keep } from './keep'
import { change, current, type Known } from './state'
import type { Batch, Bed, Crop, Customer, Farm, HarvestCheck, Input, InputLot, Lot, Me, OnHand, Person, Planting, Plot, Sheet, WaterSource } from './records'

const listsStay = 30 * 60_000
let under: Promise<void> | undefined

// refresh asks the book again; one round at a time. Lists change seldom and are asked for now and then, the harvest check
// each time.
export function refresh({ lists = false } = {}): Promise<void> {
  if (under) return lists ? under.then(() => refresh({ lists })) : under
  under = load(lists).finally(() => { under = undefined })
  return under
}

async function load(lists: boolean): Promise<void> {
  const { token, known, farm } = current()
  if (!token) return
  const asked = Date.now() // what is written from here on, the answer may not know of
  try {
    const old = !known || known.farm.id !== farm || Date.now() - known.listsAt > listsStay
    const [check, rest] = await Promise.all([get<HarvestCheck>('/v1/harvest-check', token), lists || old ? loadLists(token) : undefined])
    const next: Known = { ...known!, ...rest, at: asked, on: check.on, checks: check.checks }
    if (current().token !== token) return // somebody signed out meanwhile
    change({ known: next, now: Date.now(), ...(current().line === 'no-signal' ? { line: 'idle' as const } : {}) })
    await keep('known', next)
  } catch (e) {
    if (e instanceof NoSignal) change({ line: 'no-signal', now: Date.now() })
    else if (e instanceof Refused && e.problem.status === 401) change({ line: 'signed-out' })
    else if (!(e instanceof Refused)) throw e
  }
}

async function loadLists(token: string): Promise<Omit<Known, 'at' | 'on' | 'checks'>> {
  const all = async <T extends { voided?: boolean }>(path: string, pages?: number) => (await list<T>(path, token, pages)).filter(r => !r.voided)
  const [farm, people, plots, beds, crops, plantings, inputs, inputLots, batches, lots, me, onHand, sources, customers, sheets] = await Promise.all([
    get<Farm>('/v1/farm', token), all<Person>('/v1/people'), all<Plot>('/v1/plots'), all<Bed>('/v1/beds'), all<Crop>('/v1/crops'),
    all<Planting>('/v1/plantings', 2), all<Input>('/v1/inputs'), all<InputLot>('/v1/input-lots', 2), all<Batch>('/v1/compost-batches', 1),
    all<Lot>('/v1/harvest-lots', 1), get<Me>('/v1/me', token), get<OnHand[]>('/v1/lots', token), all<WaterSource>('/v1/water-sources'),
    all<Customer>('/v1/customers'), get<Sheet[]>('/v1/log-sheets', token),
  ])
  return {
    farm, people, plots, beds, crops, plantings, inputs, inputLots, batches, lots: lots.map(slim), me, onHand, sources, customers, sheets, listsAt: Date.now(),
  }
}

// slim keeps what a look-up without signal needs, and leaves out what fills the phone.
function slim(l: Lot): Lot {
  const { id, code, planting_id, bed_ids, cut_on, cut_from, cut_to, quantity, containers, verdict_now, held } = l
  return { id, code, planting_id, bed_ids, cut_on, cut_from, cut_to, quantity, containers, verdict_now, held }
}
