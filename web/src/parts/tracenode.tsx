// A part of a chain in words: what it is, its name, and its days as people say them.

import type { Trace } from '../book/records'
import { day, useWords, type Words } from '../words/words'
import { Name } from './page'

type Node = Trace['nodes'][number]

// daysOf gives the days of a part: when it was, and what became of what was put on the ground.
export function daysOf(w: Words, node: Node): string[] {
  const days = node.on ? [day(w, node.on)] : []
  if (node.kind === 'application' && node.what) days.push(node.incorporated_on ? w.bed.workedIn(day(w, node.incorporated_on)) : w.look.notWorkedIn)
  if (node.kind === 'grazing' && node.what) days.push(node.to ? w.bed.until(day(w, node.to)) : w.look.stillThere)
  return days
}

export function NodeLine({ node }: { node: Node }) {
  const w = useWords()
  const name = <Name>{node.what ?? node.label}</Name>
  return (
    <>
      <span class="what">{w.look.kinds[node.kind] ?? node.kind}</span> {node.kind === 'bed' && node.id ? <a href={'/app/bed/' + node.id}>{name}</a> : name}
      {daysOf(w, node).map(said => <>, {said}</>)}
    </>
  )
}
