// The chain of a lot or crate as a drawing: from the ground at the bottom to the label at the top, and the same in words.

import { useAnswer } from '../book/now'
import type { Trace } from '../book/records'
import { ChainDrawing } from '../draw/chain'
import { Far } from '../parts/far'
import { Helper, Name, Page } from '../parts/page'
import { PrintButton } from '../parts/picture'
import type { Place } from '../route'
import { useWords } from '../words/words'

export function Chain({ place }: { place: Place }) {
  const w = useWords()
  const code = place.parts[1] ?? ''
  const trace = useAnswer<Trace>('/v1/trace/' + encodeURIComponent(code))
  return (
    <Page title={w.acts.chain.title} under={<span class="mono"><Name>{code}</Name></span>}>
      <Far of={trace} />
      {trace.value && (
        <>
          <ChainDrawing trace={trace.value} label={w.acts.chain.picture(code)} />
          <p class="acts"><a class="go" href={'/app/code/' + code}>{w.look.title}</a><PrintButton /></p>
        </>
      )}
      <Helper />
    </Page>
  )
}
