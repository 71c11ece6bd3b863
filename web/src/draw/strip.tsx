// The time strip of a bed's ground: what came onto it and when, up to today and on to the first clear days. The same
// stands below in words, so nobody needs the picture.

import { addDays, daysBetween } from '../book/days'
import type { Seen } from '../book/judge'
import { mendKinds } from '../book/kinds'
import type { Exposure, Ground } from '../book/records'
import { today } from '../book/sync'
import { Name } from '../parts/page'
import { day, fullDay, useWords } from '../words/words'
import { useWidth } from './width'

const left = 12
const lane = 30

export function Strip({ ground, checks }: { ground: Ground; checks: Seen[] }) {
  const w = useWords()
  const [width, frame] = useWidth()
  const now = today()
  const seen = [...ground.exposures].reverse() // oldest first, numbered as in the list
  const clear = checks.filter(c => c.clear_on && c.clear_on > now)
  // The years that matter are the last two; what is older is written at the edge.
  const oldest = seen.map(e => e.on).filter(d => d <= now).sort()[0] ?? now
  const from = [oldest, addDays(now, -730)].sort()[1]!
  const to = [...clear.map(c => c.clear_on!), addDays(now, 30)].sort().pop()!
  const span = Math.max(1, daysBetween(addDays(from, -14), addDays(to, 14)))
  const x = (d: string) => left + Math.max(0, Math.min(1, daysBetween(addDays(from, -14), d) / span)) * (width - 2 * left)
  const height = 64 + seen.length * lane
  const ends = (e: Exposure) => e.incorporated_on ?? e.to ?? e.on
  return (
    <>
      <div class="strip" ref={frame}>
        <svg viewBox={`0 0 ${width} ${height}`} role="img" aria-label={w.bed.strip(fullDay(w, from), fullDay(w, to))}>
          {months(from, to, width).map(m => (
            <g key={m.day}>
              <path d={`M${x(m.day)} 30V${height}`} stroke="#767676" stroke-width="1" stroke-dasharray="2 5" />
              <text x={x(m.day) + 4} y="20" font-size="18">{new Intl.DateTimeFormat(w.locale, { month: 'short', year: m.year ? '2-digit' : undefined, timeZone: 'UTC' }).format(new Date(m.day + 'T12:00:00Z'))}</text>
            </g>
          ))}
          {clear.map(c => <path key={c.planting_id} d={`M${x(c.clear_on!)} 30V${height}`} stroke="#000" stroke-width="3" stroke-dasharray="9 5" />)}
          <path d={`M${x(now)} 26V${height}`} stroke="#000" stroke-width="5" />
          {seen.map((e, i) => {
            const y = 54 + i * lane
            const a = x(e.on)
            const b = x(ends(e))
            return (
              <g key={i}>
                <path d={`M${a} ${y}H${Math.max(b, a + 1)}`} stroke="#000" stroke-width="6" />
                <Mark exposure={e} x={b} y={y} />
                <text x={b > width - 90 ? a - 18 : b + 18} y={y + 7} font-size="20" font-weight="700" text-anchor={b > width - 90 ? 'end' : 'start'}>{i + 1}</text>
              </g>
            )
          })}
        </svg>
      </div>
      <p class="cite key"><span class="bar" /> {w.bed.stripToday}{clear.map(c => <span key={c.planting_id}><span class="dash" /> <Name>{w.bed.untilClear(c.crop, day(w, c.clear_on!))}</Name></span>)}</p>
      <ol class="plain numbered">
        {seen.map((e, i) => (
          <li key={i}>
            <svg class="dot" viewBox="0 0 24 24" aria-hidden="true"><Mark exposure={e} x={12} y={12} /></svg>
            <div>
              <b><Name>{e.what}</Name></b>, {w.bed.standing[e.standing] ?? w.bed.kinds[e.kind] ?? w.look.kinds[e.kind] ?? e.kind}
              <br />{day(w, e.on)}{e.incorporated_on && <>, {w.bed.workedIn(day(w, e.incorporated_on))}</>}{e.to && e.to !== e.on && <>, {w.bed.until(day(w, e.to))}</>}
              {e.via.kind !== 'bed' && <>, {w.bed.via[e.via.kind]} <Name>{e.via.name}</Name></>}
              {e.days_to_harvest !== undefined && <>, {w.bed.labelDays(e.days_to_harvest)}</>}
              {e.supplier && <>, <Name>{e.supplier}</Name></>}
              {e.why && <p class="cite" lang="en"><bdi>{e.why}</bdi></p>}
              {mendKinds[e.record.kind] && <p><a href={`/app/mend/${mendKinds[e.record.kind]!.path}/${e.record.id}`}>{w.mend.again}<span class="unseen"> <Name>{e.what}</Name></span></a></p>}
            </div>
          </li>
        ))}
      </ol>
    </>
  )
}

// Mark is a shape for each kind: full for untreated, open for treated, a leaf for what has no manure in it, a diamond for
// what was found or happened.
function Mark({ exposure, x, y }: { exposure: Exposure; x: number; y: number }) {
  const at = `translate(${x} ${y})`
  if (exposure.kind === 'finding') return <path transform={at} d="M0-11L11 0 0 11-11 0z" fill="#fff" stroke="#000" stroke-width="4" />
  if (exposure.standing === 'plant-only') return <path transform={at} d="M-10 6C-10-8 4-12 10-10 12-4 8 10-6 10zM-10 10L2-2" fill="#fff" stroke="#000" stroke-width="2.500" />
  if (exposure.standing === 'treated') return <rect transform={at} x="-9" y="-9" width="18" height="18" fill="#fff" stroke="#000" stroke-width="4" />
  return <rect transform={at} x="-10" y="-10" width="20" height="20" fill="#000" />
}

// months gives the first days of months to write above the strip, as many as find room.
function months(from: string, to: string, width: number): { day: string; year: boolean }[] {
  const fit = Math.max(1, Math.floor(width / 80))
  const step = [1, 3, 6, 12].find(n => daysBetween(from, to) / 30 / n <= fit) ?? 12
  const out = []
  for (let d = new Date(from.slice(0, 7) + '-01T12:00:00Z'); ;) {
    d.setUTCMonth(d.getUTCMonth() + 1)
    const first = d.toISOString().slice(0, 10)
    if (first > to) return out
    if (d.getUTCMonth() % step === 0) out.push({ day: first, year: d.getUTCMonth() === 0 || step >= 6 })
  }
}
