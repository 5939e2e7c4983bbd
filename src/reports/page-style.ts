/** The look of a report: ink on paper, two greys, one accent used sparingly, the system's own fonts, tabular figures. */
export const STYLE = `
:root{--ink:#111;--mid:#555;--faint:#bbb;--accent:#8a3a06}
*{box-sizing:border-box}
body{margin:0 auto;max-width:860px;padding:24px;background:#fff;color:var(--ink);font:16px/1.5 system-ui,"Segoe UI",Roboto,"Noto Sans","DejaVu Sans",sans-serif;font-variant-numeric:tabular-nums}
p{margin:0 0 8px;max-width:75ch}
h1{font-size:26px;line-height:1.25;margin:0}
h2{font-size:18px;margin:28px 0 8px;padding-top:10px;border-top:1px solid var(--ink);break-after:avoid}
.clinic,.sub,.made,.remark,figcaption{color:var(--mid)}
.clinic,.made,.sub{margin:0}
.remark,figcaption{font-size:14px}
.needs{border-left:4px solid var(--accent);padding-left:10px;font-weight:600;break-inside:avoid}
.d{white-space:nowrap}
ul{margin:0 0 8px;padding-left:22px}
li{margin-bottom:3px;max-width:75ch}
.glance{display:flex;flex-wrap:wrap;gap:8px 36px;margin:0 0 12px}
.glance div{display:flex;flex-direction:column-reverse;justify-content:flex-end}
.glance dd{margin:0;font-size:24px;font-weight:600;line-height:1.3}
.glance dt{color:var(--mid);font-size:14px}
table{border-collapse:collapse;width:100%}
td,th{padding:0;text-align:left;vertical-align:top;font-weight:400}
table.data{margin:0 0 12px;font-size:15px}
table.data caption{text-align:left;color:var(--mid);padding-bottom:4px}
table.data th{font-weight:600;border-bottom:1px solid var(--ink)}
table.data td{border-bottom:1px solid var(--faint)}
table.data td,table.data th{padding:4px 12px 4px 0}
table.data tr{break-inside:avoid}
table.data .n{text-align:right;white-space:nowrap}
figure{margin:0 0 12px;break-inside:avoid}
figure svg{display:block;width:100%;height:auto}
svg text{font:13px system-ui,"Segoe UI",Roboto,"Noto Sans","DejaVu Sans",sans-serif;font-variant-numeric:tabular-nums}
details{font-size:14px}
.sign{display:flex;gap:32px;margin-top:56px;break-inside:avoid}
.sign span{flex:1;border-top:1px solid var(--ink);padding-top:4px;color:var(--mid);font-size:14px}
footer{margin-top:28px;padding-top:8px;border-top:1px solid var(--ink);font-size:14px;break-inside:avoid}
footer p{margin:0 0 4px;max-width:none}
.running{display:none}
@page{margin:14mm 15mm 16mm;@bottom-right{content:"page " counter(page) " of " counter(pages);font:9pt system-ui,sans-serif}}
@page dense{margin:10mm 14mm 12mm}
@media print{
.dense{page:dense}
:root{--mid:#444;--accent:#111}
body{max-width:none;padding:0;font-size:10.5pt;line-height:1.4}
h1{font-size:17pt}
h2{font-size:12pt;margin:5mm 0 2mm;padding-top:2mm}
.glance dd{font-size:15pt}
table.data{font-size:9.5pt}
.remark,figcaption,.glance dt,.sign span,footer{font-size:8.5pt}
.running{display:table-cell;font-size:9pt;padding-bottom:3mm}
.running span{float:right}
.made,details{display:none}
p,li{orphans:3;widows:3}
.dense{font-size:9pt;line-height:1.25}
.dense h2{font-size:10.5pt;margin:2mm 0 .8mm;padding-top:.8mm}
.dense p,.dense ul,.dense figure,.dense table.data{margin-bottom:1mm}
.dense .glance{margin-bottom:1mm}
.dense .glance dd{font-size:12pt}
.dense table.data{font-size:8.5pt}
.dense table.data td,.dense table.data th{padding-top:.4mm;padding-bottom:.4mm}
.dense p,.dense li{max-width:none;margin-bottom:.3mm}
.dense .sign{margin-top:8mm}
.dense h1{font-size:14pt}
.dense footer{margin-top:3mm;font-size:7.5pt}
.dense footer p{margin:0}
}
`;
