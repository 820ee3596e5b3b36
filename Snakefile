# The rules of a campaign, and nothing else. Each command shows the settings it depends on, a
# digest of its source and of its data, and can be pasted into a terminal.
from pathlib import Path
from trivet.cli.summary import print_summary
from trivet.workflow.progress import watch
from trivet.workflow.run import open_workflow

watch(workflow.output_settings.quiet)

work = open_workflow(
    config,
    Path(workflow.basedir) / "config" / "demo",
    deployed="conda" in {str(method) for method in workflow.deployment_settings.deployment_method},
)


onsuccess:
    print_summary(work.reports)


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
    log:
        work.log("read", "{cell}"),
    conda:
        "config/environment.yaml"
    params:
        python=work.python,
        settings=lambda wildcards: work.settings("read"),
        cell=lambda wildcards: work.cell_facts("read", wildcards.cell),
        data=lambda wildcards: work.raw_digest(wildcards.cell),
        code=work.code("read"),
        campaign=work.folder,
        out=subpath(output[0], parent=True),
    shell:
        "{params.python:q} -m trivet.stages.read --settings {params.settings:q}"
        " --cell {params.cell:q} --code {params.code} --data {params.data}"
        " --campaign {params.campaign:q} --inputs {input:q} --out {params.out:q}"
        " > {log:q} 2>&1"


rule cycling:
    input:
        work.cell_table("read", "series"),
        work.cell_table("read", "ledger"),
        work.cell_table("read", "capacity_records"),
        work.cell_table("read", "plating_series"),
        work.cell_table("read", "spectrum_points"),
    output:
        work.cell_tables("cycling"),
    log:
        work.log("cycling", "{cell}"),
    conda:
        "config/environment.yaml"
    params:
        python=work.python,
        settings=lambda wildcards: work.settings("cycling"),
        cell=lambda wildcards: work.cell_facts("cycling", wildcards.cell),
        code=work.code("cycling"),
        out=subpath(output[0], parent=True),
    shell:
        "{params.python:q} -m trivet.stages.cycling.stage --settings {params.settings:q}"
        " --cell {params.cell:q} --code {params.code} --inputs {input:q} --out {params.out:q}"
        " > {log:q} 2>&1"


rule impedance:
    input:
        work.cell_table("read", "spectrum_points"),
        work.cell_table("cycling", "cycles"),
        work.cell_table("cycling", "timeline"),
        work.cell_table("read", "ledger"),
        work.cell_table("read", "series"),
    output:
        work.cell_tables("impedance"),
    log:
        work.log("impedance", "{cell}"),
    conda:
        "config/environment.yaml"
    params:
        python=work.python,
        settings=lambda wildcards: work.settings("impedance"),
        cell=lambda wildcards: work.cell_facts("impedance", wildcards.cell),
        code=work.code("impedance"),
        out=subpath(output[0], parent=True),
    shell:
        "{params.python:q} -m trivet.stages.impedance.stage --settings {params.settings:q}"
        " --cell {params.cell:q} --code {params.code} --inputs {input:q} --out {params.out:q}"
        " > {log:q} 2>&1"


# On request: snakemake ... reports/<campaign>/cells/<cell>/series.bdf.csv
rule bdf:
    input:
        work.cell_table("read", "series"),
        work.cell_table("read", "ledger"),
    output:
        work.reports / "cells" / "{cell}" / "series.bdf.csv",
        work.reports / "cells" / "{cell}" / "series.bdf.csv-metadata.json",
    log:
        work.log("bdf", "{cell}"),
    conda:
        "config/environment.yaml"
    params:
        python=work.python,
        code=work.code("bdf"),
        out=subpath(output[0], parent=True),
    shell:
        "{params.python:q} -m trivet.stages.bdf --code {params.code}"
        " --inputs {input:q} --out {params.out:q}"
        " > {log:q} 2>&1"


rule collect:
    input:
        work.all_cell_tables(),
    output:
        work.table(*work.collected),
    log:
        work.log("collect"),
    conda:
        "config/environment.yaml"
    params:
        python=work.python,
        cells=work.cells_read,
        out=work.tables,
        code=work.code("collect"),
        folder=work.reports / "cells",
    shell:
        "{params.python:q} -m trivet.stages.collect --code {params.code}"
        " --cells {params.cells:q} --inputs {params.folder:q} --out {params.out:q}"
        " > {log:q} 2>&1"


rule lifetime:
    input:
        work.table("cycles", "reference_checks", "timeline", "excursions", "ledger", "plating"),
    output:
        work.table("cells", "lifetimes", "findings_lifetime"),
    log:
        work.log("lifetime"),
    conda:
        "config/environment.yaml"
    params:
        python=work.python,
        settings=lambda wildcards: work.settings("lifetime"),
        data=work.sheet_digest(),
        out=work.tables,
        code=work.code("lifetime"),
        campaign=work.folder,
    shell:
        "{params.python:q} -m trivet.stages.lifetime.stage --settings {params.settings:q}"
        " --code {params.code} --data {params.data} --campaign {params.campaign:q}"
        " --inputs {input:q} --out {params.out:q}"
        " > {log:q} 2>&1"


rule survival:
    input:
        work.table("cells", "lifetimes", "ledger"),
    output:
        work.table(
            "survival",
            "survival_intervals",
            "at_risk",
            "life_summary",
            "comparisons",
            "causes",
            "findings_survival",
        ),
    log:
        work.log("survival"),
    conda:
        "config/environment.yaml"
    params:
        python=work.python,
        settings=lambda wildcards: work.settings("survival"),
        out=work.tables,
        code=work.code("survival"),
    shell:
        "{params.python:q} -m trivet.stages.survival.stage --settings {params.settings:q}"
        " --code {params.code} --inputs {input:q} --out {params.out:q}"
        " > {log:q} 2>&1"


rule planning:
    input:
        work.table("cells", "lifetimes"),
    output:
        work.table("planning"),
    log:
        work.log("planning"),
    conda:
        "config/environment.yaml"
    params:
        python=work.python,
        settings=lambda wildcards: work.settings("planning"),
        out=work.tables,
        code=work.code("planning"),
    shell:
        "{params.python:q} -m trivet.stages.planning --settings {params.settings:q}"
        " --code {params.code} --inputs {input:q} --out {params.out:q}"
        " > {log:q} 2>&1"


rule trends:
    input:
        work.table("cells", "spectra", "spectrum_curves"),
    output:
        work.table(
            "spectra_second_pass",
            "resistance_trends",
            "separator_resistance",
            "relaxation_times",
            "relaxation_peaks",
        ),
    log:
        work.log("trends"),
    conda:
        "config/environment.yaml"
    params:
        python=work.python,
        settings=lambda wildcards: work.settings("trends"),
        out=work.tables,
        code=work.code("trends"),
    shell:
        "{params.python:q} -m trivet.stages.trends.stage --settings {params.settings:q}"
        " --code {params.code} --inputs {input:q} --out {params.out:q}"
        " > {log:q} 2>&1"


rule measures:
    input:
        work.table(
            "cells",
            "cycles",
            "electrode_cycles",
            "reference_checks",
            "spectra",
            "resistance_trends",
        ),
    output:
        work.table("cell_measures", "measures"),
    log:
        work.log("measures"),
    conda:
        "config/environment.yaml"
    params:
        python=work.python,
        settings=lambda wildcards: work.settings("measures"),
        out=work.tables,
        code=work.code("measures"),
    shell:
        "{params.python:q} -m trivet.stages.measures.stage --settings {params.settings:q}"
        " --code {params.code} --inputs {input:q} --out {params.out:q}"
        " > {log:q} 2>&1"


rule findings:
    input:
        work.table("findings_cells", "findings_lifetime", "findings_survival"),
    output:
        work.table("findings"),
    log:
        work.log("findings"),
    conda:
        "config/environment.yaml"
    params:
        python=work.python,
        out=work.tables,
        code=work.code("findings"),
    shell:
        "{params.python:q} -m trivet.stages.findings --code {params.code}"
        " --inputs {input:q} --out {params.out:q}"
        " > {log:q} 2>&1"


# The same decisions as of an earlier data cut, for what changed since.
rule earlier:
    input:
        work.table(
            "ledger",
            "cycles",
            "reference_checks",
            "timeline",
            "excursions",
            "plating",
            "findings_cells",
        ),
        cells=[work.cell_table("read", "series", cell) for cell in work.cells_read],
    output:
        work.table("data_cuts"),
        expand(
            work.reports / "earlier" / "{name}.parquet",
            name=["cells", "lifetimes", "comparisons", "timeline", "findings"],
        ),
    log:
        work.log("earlier"),
    conda:
        "config/environment.yaml"
    params:
        python=work.python,
        settings=lambda wildcards: work.settings("as_of"),
        data=work.sheet_digest(),
        tables=lambda wildcards, input: input[:7],
        folder=work.reports / "cells",
        out=work.reports,
        code=work.code("as_of"),
        campaign=work.folder,
    shell:
        "{params.python:q} -m trivet.stages.as_of.stage --settings {params.settings:q}"
        " --code {params.code} --data {params.data} --campaign {params.campaign:q}"
        " --inputs {params.tables:q} {params.folder:q} --out {params.out:q}"
        " > {log:q} 2>&1"


rule changes:
    input:
        work.table("lifetimes", "timeline", "comparisons", "findings"),
        expand(
            work.reports / "earlier" / "{name}.parquet",
            name=["lifetimes", "timeline", "comparisons", "findings"],
        ),
        work.table("data_cuts"),
    output:
        work.table("changes"),
    log:
        work.log("changes"),
    conda:
        "config/environment.yaml"
    params:
        python=work.python,
        settings=lambda wildcards: work.settings("changes"),
        out=work.tables,
        code=work.code("changes"),
    shell:
        "{params.python:q} -m trivet.stages.changes --settings {params.settings:q}"
        " --code {params.code} --inputs {input:q} --out {params.out:q}"
        " > {log:q} 2>&1"


rule checklist:
    input:
        work.table(
            "cells",
            "cycles",
            "spectra",
            "ledger",
            "lifetimes",
            "timeline",
            "plating",
            "cell_measures",
            "spectrum_curves",
        ),
    output:
        work.table("checklist"),
    log:
        work.log("checklist"),
    conda:
        "config/environment.yaml"
    params:
        python=work.python,
        settings=lambda wildcards: work.settings("checklist"),
        out=work.tables,
        code=work.code("checklist"),
    shell:
        "{params.python:q} -m trivet.stages.checklist --settings {params.settings:q}"
        " --code {params.code} --inputs {input:q} --out {params.out:q}"
        " > {log:q} 2>&1"


rule report:
    input:
        work.table(*work.archived),
    output:
        work.reports / "report.pdf",
        work.reports / "summary.json",
        directory(work.reports / "figures"),
    log:
        work.log("report"),
    conda:
        "config/environment.yaml"
    params:
        python=work.python,
        settings=lambda wildcards: work.settings("report"),
        tables=work.tables,
        out=work.reports,
        code=work.code("report"),
    shell:
        "{params.python:q} -m trivet.stages.report --settings {params.settings:q}"
        " --code {params.code} --inputs {params.tables:q} --out {params.out:q}"
        " > {log:q} 2>&1"


rule texts:
    input:
        work.table(*work.archived),
    output:
        work.texts(),
    log:
        work.log("texts"),
    conda:
        "config/environment.yaml"
    params:
        python=work.python,
        out=work.tables,
        code=work.code("export_csv"),
    shell:
        "{params.python:q} -m trivet.stages.export_csv --code {params.code}"
        " --inputs {input:q} --out {params.out:q}"
        " > {log:q} 2>&1"


rule archive:
    input:
        work.reports / "report.pdf",
        work.reports / "summary.json",
        work.reports / "figures",
        work.table(*work.archived),
        work.texts(),
        rules=workflow.snakefile,
    output:
        work.reports / "archive" / "manifest-sha256.txt",
    log:
        work.log("archive"),
    conda:
        "config/environment.yaml"
    params:
        python=work.python,
        settings=lambda wildcards: work.settings("archive"),
        data=work.sources_digest(),
        results=work.reports,
        out=subpath(output[0], parent=True),
        code=work.code("archive"),
        campaign=work.folder,
    shell:
        "{params.python:q} -m trivet.stages.archive.stage --settings {params.settings:q}"
        " --code {params.code} --data {params.data} --campaign {params.campaign:q}"
        " --inputs {params.results:q} {input.rules:q} --out {params.out:q}"
        " > {log:q} 2>&1"
