// The chain of a lot as a drawing: the label on top, then what went into it, row by row down to the ground. Every mark
// has its number in the list below, so nobody needs the picture.

import type { Trace } from '../book/records'
import { NodeLine } from '../parts/tracenode'
import { useWords } from '../words/words'
import { useWidth } from './width'

const rowHeight = 104
const mark = 17

// rowsOf lays the parts of a chain in rows: each stands below everything it went into. What is drawn is at most as deep
// as there are parts, so a circle in the records can't hang it.
export function rowsOf(trace: Trace): number[][] {
  const depth = trace.nodes.map(() => -1)
  depth[trace.start] = 0
  for (let round = 0; round < trace.nodes.length; round++) {
    let moved = false
    for (const { from, to } of trace.links) {
      if (depth[to]! >= 0 && depth[from]! < depth[to]! + 1 && from !== trace.start && depth[to]! < trace.nodes.length) {
        depth[from] = depth[to]! + 1
        moved = true
      }
    }
    if (!moved) break
  }
  const last = Math.max(...depth) + 1
  const rows: number[][] = []
  depth.forEach((d, i) => { (rows[d < 0 ? last : d] ??= []).push(i) })
  return rows.filter(Boolean)
}

export function ChainDrawing({ trace, label }: { trace: Trace; label: string }) {
  const w = useWords()
  const [width, frame] = useWidth()
  const rows = rowsOf(trace)
  const numbers = new Map(rows.flat().map((node, i) => [node, i + 1]))
  const widest = Math.max(...rows.map(r => r.length))
  const room = Math.max(width, widest * 54)
  const at = new Map(rows.flatMap((row, y) => row.map((node, x) => [node, { x: ((x + 0.5) * room) / row.length, y: y * rowHeight + 30 }] as const)))
  const pairs = [...new Map(trace.links.map(l => [l.from + '-' + l.to, l])).values()]
  return (
    <>
      <div class="strip chain" ref={frame} tabIndex={0} role="group" aria-label={label}>
        <svg viewBox={`0 0 ${room} ${rows.length * rowHeight}`} style={{ width: room + 'px' }} role="img" aria-label={label}>
          {pairs.map((l, i) => {
            const a = at.get(l.from)!
            const b = at.get(l.to)!
            return <path key={i} d={`M${a.x} ${a.y - mark}C${a.x} ${(a.y + b.y) / 2} ${b.x} ${(a.y + b.y) / 2} ${b.x} ${b.y + mark + 22}`} fill="none" stroke="#000" stroke-width="2" />
          })}
          {trace.nodes.map((node, i) => {
            const p = at.get(i)!
            return (
              <g key={i} transform={`translate(${p.x} ${p.y})`}>
                <Shape kind={node.kind} />
                <rect x="-16" y={mark} width="32" height="23" fill="#fff" />
                <text y={mark + 19} font-size="20" font-weight="700" text-anchor="middle">{numbers.get(i)}</text>
              </g>
            )
          })}
        </svg>
      </div>
      <ol class="plain numbered">
        {rows.flat().map(i => {
          const node = trace.nodes[i]!
          const into = trace.links.filter(l => l.from === i)
          return (
            <li key={i}>
              <svg class="dot" viewBox="-20 -20 40 40" aria-hidden="true"><Shape kind={node.kind} /></svg>
              <div>
                <NodeLine node={node} />
                {into.length > 0 && <p class="cite">→ {[...new Set(into.map(l => numbers.get(l.to)))].join(', ')}: <bdi>{[...new Set(into.map(l => w.acts.chain.how(l.how)))].join('; ')}</bdi></p>}
              </div>
            </li>
          )
        })}
      </ol>
      {trace.gaps && trace.gaps.length > 0 && <><h2>{w.look.gaps}</h2><ul class="dashes">{trace.gaps.map((g, i) => <li key={i}><bdi>{w.said(g)}</bdi></li>)}</ul></>}
    </>
  )
}

// Shape tells the kinds apart by outline alone.
function Shape({ kind }: { kind: string }) {
  const line = { fill: '#fff', stroke: '#000', 'stroke-width': 3 }
  switch (kind) {
    case 'harvest-lot':
    case 'pack-lot':
    case 'crate': return <path d="M-17-12H17V4L9 12H-17z" {...line} fill={kind === 'harvest-lot' ? '#fff' : '#000'} />
    case 'planting':
    case 'crop':
    case 'seed-lot': return <path d="M0 14V-4M0 2C-14 2-16-10-14-14-4-14 0-8 0 2C0-8 4-14 14-14 16-10 14 2 0 2" {...line} />
    case 'bed': return <path d="M-17-7H17V7H-17zM-17 0H17" {...line} />
    case 'plot': return <path d="M-15-13H15V13H-15zM-15 0H15M0-13V13" {...line} />
    case 'water-source': return <path d="M0-16C8-6 11-1 11 4A11 11 0 0 1-11 4C-11-1-8-6 0-16z" {...line} />
    case 'compost-batch': return <path d="M-18 12C-12-14 12-14 18 12z" {...line} />
    case 'finding': return <path d="M0-15L15 0 0 15-15 0z" {...line} />
    case 'supplier': return <path d="M-14 13V-3L0-15 14-3V13zM-4 13V3H4V13" {...line} />
    case 'application':
    case 'grazing': return <path d="M-13-13H13V13H-13zM-13 13L13-13" {...line} />
    default: return <circle r="13" {...line} />
  }
}
