// The five judgements as a field gate: open, ajar, shut until a day, shut with a question, barred. Each is told apart by
// its shape alone; the word always stands beside it.

import type { Verdict } from '../book/records'

const posts = <path d="M7 8v34M41 8v34" stroke-width="6" />
const bars = <path d="M7 18h34M7 27h34M7 36h34" stroke-width="3.5" />

const shapes: Record<Verdict, preact.JSX.Element> = {
  // the leaf stands aside, the track runs through
  clear: <>{posts}<path d="M9 16l8-8M9 25l8-8M9 34l8-8M17 6v22" stroke-width="3" /><path d="M20 44l4-22M34 44l-4-22" stroke-width="3" stroke-dasharray="5 4" /></>,
  // half shut
  caution: <>{posts}<path d="M7 18h16M7 27h16M7 36h16M24 15v24" stroke-width="3.5" /></>,
  // shut, and the sun that will come up
  wait: <>{posts}{bars}<path d="M17 14a7 7 0 0 1 14 0M24 1v3M13.5 5l2 2M34.5 5l-2 2" stroke-width="2.5" /></>,
  // shut, and a board with a question
  ask: <>{posts}{bars}<rect x="13" y="11" width="22" height="32" fill="#fff" stroke-width="3" /><path d="M19.5 21c0-6 9-6 9 0 0 4-4.5 4-4.5 8M24 34.500v.5" stroke-width="3.5" stroke-linecap="round" /></>,
  // barred from corner to corner
  stop: <><rect x="4" y="6" width="40" height="38" fill="#000" stroke-width="0" /><path d="M10 12l28 26M38 12L10 38" stroke="#fff" stroke-width="6" /></>,
}

export function Gate({ verdict }: { verdict: Verdict }) {
  return <svg class="gate" viewBox="0 0 48 48" aria-hidden="true" fill="none" stroke="#000">{shapes[verdict]}</svg>
}
