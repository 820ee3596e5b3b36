# The rules of a campaign, and nothing else. What a stage reads and writes stands in its contract
# (trivet/stages/contract.py); what a job depends on besides tables stands in the file of the job,
# so that a printed command is one line that can be pasted into a terminal.
import time
from pathlib import Path
from trivet.workflow.failures import print_failures
from trivet.cli.summary import print_summary
from trivet.workflow.handover import RULES, tells_the_end
from trivet.workflow.progress import watch
from trivet.workflow.run import open_workflow

BEGAN_S = time.time()
watch(workflow.output_settings.quiet)

work = open_workflow(
    config,
    Path(workflow.basedir) / "config" / "demo",
    deployed="conda" in {str(method) for method in workflow.deployment_settings.deployment_method},
)
if workflow.is_main_process and not workflow.dryrun:
    work.hold()
if workflow.is_main_process:
    work.prepare()
if workflow.is_main_process and workflow.local_exec and not workflow.dryrun:
    work.stand_by()

COMMAND = (
    "{params.python:q} -m trivet.stages --campaign={params.campaign:q} -- {input.job:q}"
    " > {log:q} 2>&1"
)


onsuccess:
    if not tells_the_end():
        print_summary(work.reports)


onerror:
    if not tells_the_end():
        print_failures(work.reports, since_s=BEGAN_S)


wildcard_constraints:
    cell=work.cell_pattern,


localrules:
    all,
    record,
    export_csv,


rule all:
    input:
        work.reports / "report.pdf",
        work.reports / "archive" / "manifest-sha256.txt",
        work.jobs.made("report"),
        work.jobs.made("archive"),
        work.texts(),


rule read:
    input:
        **work.reads("read"),
        raw=ancient(lambda wildcards: work.readable_files(wildcards.cell)),
    output:
        **work.writes("read"),
    log:
        work.log("read"),
    benchmark:
        work.benchmark("read")
    group:
        "cell"
    resources:
        **work.resources("read"),
    conda:
        work.environment
    params:
        **work.params,
    shell:
        COMMAND


for stage in ("cycling", "impedance"):

    rule:
        name:
            stage
        input:
            **work.reads(stage),
        output:
            **work.writes(stage),
        log:
            work.log(stage),
        benchmark:
            work.benchmark(stage)
        group:
            "cell"
        resources:
            **work.resources(stage),
        conda:
            work.environment
        params:
            **work.params,
        shell:
            COMMAND


# On request: snakemake ... reports/<campaign>/cells/<cell>/series.bdf.csv
rule bdf:
    input:
        **work.reads("bdf"),
    output:
        **work.writes("bdf"),
    log:
        work.log("bdf"),
    benchmark:
        work.benchmark("bdf")
    resources:
        **work.resources("bdf"),
    conda:
        work.environment
    params:
        **work.params,
    shell:
        COMMAND


rule collect:
    input:
        **work.reads("collect"),
        cells=work.cell_tables(),
    output:
        **work.writes("collect"),
    log:
        work.log("collect"),
    benchmark:
        work.benchmark("collect")
    resources:
        **work.resources("collect"),
    conda:
        work.environment
    params:
        **work.params,
    shell:
        COMMAND


for stage in (
    "lifetime", "survival", "pooling", "planning", "balance", "fading", "forecast", "trends",
    "measures", "record",
):

    rule:
        name:
            stage
        input:
            **work.reads(stage),
        output:
            **work.writes(stage),
        log:
            work.log(stage),
        benchmark:
            work.benchmark(stage)
        priority:
            work.priority(stage)
        resources:
            **work.resources(stage),
        conda:
            work.environment
        params:
            **work.params,
        shell:
            COMMAND


# The same decisions as of an earlier data cut, for what changed since.
rule as_of:
    input:
        **work.reads("as_of"),
        cells=work.cell_tables("read"),
    output:
        **work.writes("as_of"),
    log:
        work.log("as_of"),
    benchmark:
        work.benchmark("as_of")
    priority:
        work.priority("as_of")
    resources:
        **work.resources("as_of"),
    conda:
        work.environment
    params:
        **work.params,
    shell:
        COMMAND


rule report:
    input:
        **work.reads("report"),
    output:
        **{name: update(path) for name, path in work.writes("report").items()},
        made=touch(work.jobs.made("report")),
    log:
        work.log("report"),
    benchmark:
        work.benchmark("report")
    priority:
        work.priority("report")
    resources:
        **work.resources("report"),
    conda:
        work.environment
    params:
        **work.params,
    shell:
        COMMAND


rule export_csv:
    input:
        **work.reads("export_csv"),
    output:
        work.texts(),
    log:
        work.log("export_csv"),
    benchmark:
        work.benchmark("export_csv")
    resources:
        **work.resources("export_csv"),
    conda:
        work.environment
    params:
        **work.params,
    shell:
        COMMAND


rule archive:
    input:
        **work.reads("archive"),
        report=rules.report.output,
        texts=rules.export_csv.output,
        rules=RULES,
    output:
        **{name: update(path) for name, path in work.writes("archive").items()},
        made=touch(work.jobs.made("archive")),
    log:
        work.log("archive"),
    benchmark:
        work.benchmark("archive")
    resources:
        **work.resources("archive"),
    conda:
        work.environment
    params:
        **work.params,
    shell:
        COMMAND


# A command that only waits for its job would be measured here; the job writes the account itself.
if work.stands_by:
    for handed_over in workflow.rules:
        handed_over._benchmark = None
