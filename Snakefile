# The rules of a campaign, and nothing else. Each command shows the settings it depends on, a
# digest of its source and of its data, and can be pasted into a terminal.
from pathlib import Path
from trivet.workflow import open_workflow

work = open_workflow(config, Path(workflow.basedir) / "config" / "demo")


wildcard_constraints:
    cell=work.cell_pattern,


localrules:
    all,


rule all:
    input:
        work.reports / "report.pdf",
        work.reports / "archive" / "manifest-sha256.txt",
        work.texts(),


rule read:
    input:
        ancient(lambda wildcards: work.raw_files(wildcards.cell)),
    output:
        work.cell_tables("read"),
    params:
        settings=lambda wildcards: work.settings("read"),
        cell=lambda wildcards: work.cell_facts("read", wildcards.cell),
        data=lambda wildcards: work.raw_digest(wildcards.cell),
        code=work.code("read"),
        campaign=work.folder,
        out=subpath(output[0], parent=True),
    shell:
        "{work.python:q} -m trivet.stages.read --settings {params.settings:q}"
        " --cell {params.cell:q} --code {params.code} --data {params.data}"
        " --campaign {params.campaign:q} --inputs {input:q} --out {params.out:q}"


rule cycling:
    input:
        work.cell_table("read", "series"),
        work.cell_table("read", "ledger"),
    output:
        work.cell_tables("cycling"),
    params:
        settings=lambda wildcards: work.settings("cycling"),
        cell=lambda wildcards: work.cell_facts("cycling", wildcards.cell),
        code=work.code("cycling"),
        out=subpath(output[0], parent=True),
    shell:
        "{work.python:q} -m trivet.stages.cycling --settings {params.settings:q}"
        " --cell {params.cell:q} --code {params.code} --inputs {input:q} --out {params.out:q}"


rule impedance:
    input:
        work.cell_table("read", "spectrum_points"),
        work.cell_table("cycling", "cycles"),
        work.cell_table("cycling", "timeline"),
        work.cell_table("read", "ledger"),
    output:
        work.cell_tables("impedance"),
    params:
        settings=lambda wildcards: work.settings("impedance"),
        cell=lambda wildcards: work.cell_facts("impedance", wildcards.cell),
        code=work.code("impedance"),
        out=subpath(output[0], parent=True),
    shell:
        "{work.python:q} -m trivet.stages.impedance --settings {params.settings:q}"
        " --cell {params.cell:q} --code {params.code} --inputs {input:q} --out {params.out:q}"


rule collect:
    input:
        work.all_cell_tables(),
    output:
        work.table(*work.collected),
    params:
        cells=work.cells,
        code=work.code("collect"),
        folder=work.reports / "cells",
    shell:
        "{work.python:q} -m trivet.stages.collect --code {params.code}"
        " --cells {params.cells:q} --inputs {params.folder:q} --out {work.tables:q}"


rule lifetime:
    input:
        work.table("cycles", "reference_checks", "timeline", "excursions", "ledger"),
    output:
        work.table("cells", "lifetimes", "findings_lifetime"),
    params:
        settings=lambda wildcards: work.settings("lifetime"),
        data=work.sheet_digest(),
        code=work.code("lifetime"),
        campaign=work.folder,
    shell:
        "{work.python:q} -m trivet.stages.lifetime --settings {params.settings:q}"
        " --code {params.code} --data {params.data} --campaign {params.campaign:q}"
        " --inputs {input:q} --out {work.tables:q}"


rule survival:
    input:
        work.table("cells", "lifetimes"),
    output:
        work.table(
            "survival", "at_risk", "life_summary", "comparisons", "causes", "findings_survival"
        ),
    params:
        settings=lambda wildcards: work.settings("survival"),
        code=work.code("survival"),
    shell:
        "{work.python:q} -m trivet.stages.survival --settings {params.settings:q}"
        " --code {params.code} --inputs {input:q} --out {work.tables:q}"


rule measures:
    input:
        work.table("cells", "cycles", "electrode_cycles", "reference_checks", "spectra"),
    output:
        work.table("cell_measures", "measures"),
    params:
        settings=lambda wildcards: work.settings("measures"),
        code=work.code("measures"),
    shell:
        "{work.python:q} -m trivet.stages.measures --settings {params.settings:q}"
        " --code {params.code} --inputs {input:q} --out {work.tables:q}"


rule findings:
    input:
        work.table("findings_cells", "findings_lifetime", "findings_survival"),
    output:
        work.table("findings"),
    params:
        code=work.code("findings"),
    shell:
        "{work.python:q} -m trivet.stages.findings --code {params.code}"
        " --inputs {input:q} --out {work.tables:q}"


rule report:
    input:
        work.table(*work.archived),
    output:
        work.reports / "report.pdf",
        work.reports / "summary.json",
        directory(work.reports / "figures"),
    params:
        settings=lambda wildcards: work.settings("report"),
        code=work.code("report"),
    shell:
        "{work.python:q} -m trivet.stages.report --settings {params.settings:q}"
        " --code {params.code} --inputs {work.tables:q} --out {work.reports:q}"


rule texts:
    input:
        work.table(*work.archived),
    output:
        work.texts(),
    params:
        code=work.code("texts"),
    shell:
        "{work.python:q} -m trivet.stages.texts --code {params.code}"
        " --inputs {input:q} --out {work.tables:q}"


rule archive:
    input:
        work.reports / "report.pdf",
        work.reports / "summary.json",
        work.reports / "figures",
        work.table(*work.archived),
        work.texts(),
    output:
        work.reports / "archive" / "manifest-sha256.txt",
    params:
        settings=lambda wildcards: work.settings("archive"),
        data=work.sources_digest(),
        code=work.code("archive"),
        campaign=work.folder,
    shell:
        "{work.python:q} -m trivet.stages.archive --settings {params.settings:q}"
        " --code {params.code} --data {params.data} --campaign {params.campaign:q}"
        " --inputs {work.reports:q} --out {work.reports:q}/archive"
