// A QR code on the laptop's screen, for the phone's camera.

import { encodeQR } from 'qr'

export function Square({ text, label }: { text: string; label: string }) {
  const rows = encodeQR(text, 'raw', { border: 3 })
  const path = rows.flatMap((row, y) => row.map((on, x) => (on ? `M${x} ${y}h1v1h-1z` : ''))).join('')
  return (
    <svg class="square" viewBox={`0 0 ${rows.length} ${rows.length}`} role="img" aria-label={label} shape-rendering="crispEdges">
      <rect width={rows.length} height={rows.length} fill="#fff" />
      <path d={path} fill="#000" />
    </svg>
  )
}
